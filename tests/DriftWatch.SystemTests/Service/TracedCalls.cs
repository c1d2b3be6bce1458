using System.Diagnostics;
using System.Globalization;

namespace DriftWatch.SystemTests.Service;

/// <summary>
/// What befalls a process inside a given step: the kernel's tracer acts at chosen calls that touch one of the
/// named files. It kills at the n-th, so that the process dies between two writes of that very step, or has them refused
/// as a full or failing disk refuses. Traced from its start, or one thread of a running process, found by its name.
/// </summary>
internal sealed class TracedCalls : IDisposable
{
    private const string Tracer = "/usr/bin/strace";

    private readonly Process _process;

    private TracedCalls(Process process) => _process = process;

    /// <summary>kill -9 at the n-th call of a kind.</summary>
    public static string Kill(string call, int when) => string.Create(CultureInfo.InvariantCulture, $"{call}:signal=SIGKILL:when={when}");

    /// <summary>Each call of a kind fails with an error of the kernel's, such as ENOSPC.</summary>
    public static string Refuse(string call, string error) => $"{call}:error={error}";

    /// <summary>What to put before a command, so that all its threads are traced; the log tells what was seen.</summary>
    public static string[] Before(string log, string effect, params string[] files)
    {
        Assert.True(File.Exists(Tracer), $"{Tracer} is missing: apt-get install strace");
        return [Tracer, "-f", .. Options(log, effect, files)];
    }

    /// <summary>Traces the thread of a running process that works at what its name says, and no other.</summary>
    public static Task<TracedCalls> InThread(int process, string thread, string log, string effect, params string[] files)
    {
        string? task = Directory.EnumerateDirectories($"/proc/{process}/task")
            .FirstOrDefault(t => File.ReadAllText(Path.Combine(t, "comm")).StartsWith(thread, StringComparison.Ordinal));
        Assert.True(task is not null, $"No thread of process {process} is called {thread}.");
        return Attach([.. Options(log, effect, files), "-p", Path.GetFileName(task!)]);
    }

    /// <summary>Traces all threads of a running process, and those it begins.</summary>
    public static Task<TracedCalls> InProcess(int process, string log, string effect, params string[] files) =>
        Attach(["-f", .. Options(log, effect, files), "-p", process.ToString(CultureInfo.InvariantCulture)]);

    private static async Task<TracedCalls> Attach(string[] options)
    {
        Assert.True(File.Exists(Tracer), $"{Tracer} is missing: apt-get install strace");
        var start = new ProcessStartInfo(Tracer) { UseShellExecute = false, RedirectStandardError = true };
        foreach (string option in options)
        {
            start.ArgumentList.Add(option);
        }

        var attached = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        var tracer = new Process { StartInfo = start };
        tracer.ErrorDataReceived += (_, e) =>
        {
            if (e.Data?.Contains("attached", StringComparison.Ordinal) == true)
            {
                attached.TrySetResult();
            }
        };
        tracer.Start();
        tracer.BeginErrorReadLine();
        await attached.Task.WaitAsync(TimeSpan.FromSeconds(10), TimeProvider.System);
        return new TracedCalls(tracer);
    }

    /// <summary>The calls that were seen.</summary>
    public static IReadOnlyList<string> Seen(string log) =>
        [.. File.ReadLines(log).Where(line => line.Contains('(', StringComparison.Ordinal))];

    public void Dispose()
    {
        if (!_process.HasExited)
        {
            // Asked, not killed: it lets go of the thread it holds.
            using Process kill = Process.Start(new ProcessStartInfo("kill", ["-TERM", _process.Id.ToString(CultureInfo.InvariantCulture)])
            {
                UseShellExecute = false,
                RedirectStandardError = true, // it may have ended this very moment
            })!;
            _process.WaitForExit();
        }

        _process.Dispose();
    }

    private static string[] Options(string log, string effect, string[] files) =>
    [
        "-o", log, .. files.SelectMany(file => (string[])["-P", file]), "-e", "trace=" + effect[..effect.IndexOf(':', StringComparison.Ordinal)],
        "-e", "inject=" + effect,
    ];
}
