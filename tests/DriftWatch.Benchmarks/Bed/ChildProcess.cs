using System.Diagnostics;
using System.Globalization;

namespace DriftWatch.Benchmarks.Bed;

/// <summary>A process under measurement, or one that helps; ended when disposed.</summary>
internal sealed class ChildProcess : IDisposable
{
    /// <summary>Clock ticks a second in /proc: USER_HZ, which is 100 on every Linux that .NET runs on (proc(5)).</summary>
    private const double TicksPerSecond = 100;

    private readonly Process _process;
    private readonly List<string> _said = [];

    public ChildProcess(string file, params string[] arguments)
    {
        var start = new ProcessStartInfo(file) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        _process = new Process { StartInfo = start };
        _process.OutputDataReceived += Heard;
        _process.ErrorDataReceived += Heard;
        _process.Start();
        _process.BeginOutputReadLine();
        _process.BeginErrorReadLine();
    }

    /// <summary>The last lines it has said, for messages.</summary>
    public string Said
    {
        get
        {
            lock (_said)
            {
                return string.Join('\n', _said.TakeLast(20));
            }
        }
    }

    public bool HasEnded => _process.HasExited;

    /// <summary>Processor time of the process itself, its children not counted.</summary>
    public TimeSpan Processor
    {
        get
        {
            // Field 2 is the name in brackets and may hold spaces; utime and stime are fields 14 and 15 (proc(5)).
            string stat = File.ReadAllText($"/proc/{_process.Id}/stat");
            string[] fields = stat[(stat.LastIndexOf(')') + 2)..].Split(' ');
            long ticks = long.Parse(fields[11], CultureInfo.InvariantCulture) + long.Parse(fields[12], CultureInfo.InvariantCulture);
            return TimeSpan.FromSeconds(ticks / TicksPerSecond);
        }
    }

    /// <summary>Resident memory in bytes.</summary>
    public long Resident => StatusKilobytes("VmRSS:") * 1024;

    /// <summary>The first line said that contains a text; waits for it.</summary>
    public string WaitFor(string text, TimeSpan limit)
    {
        string? found = null;
        Waiting.Until(
            () =>
            {
                lock (_said)
                {
                    found = _said.Find(line => line.Contains(text, StringComparison.Ordinal));
                }

                return found is not null || _process.HasExited;
            },
            limit,
            $"{_process.StartInfo.FileName} to say '{text}'");
        return found ?? throw new InvalidOperationException($"{_process.StartInfo.FileName} ended: {Said}");
    }

    /// <summary>Waits for its end and returns what it said.</summary>
    public string Finish(TimeSpan limit)
    {
        if (!_process.WaitForExit(limit))
        {
            throw new TimeoutException($"{_process.StartInfo.FileName} did not end: {Said}");
        }

        _process.WaitForExit(); // now the output is whole as well
        return _process.ExitCode == 0 ? Said : throw new InvalidOperationException($"{_process.StartInfo.FileName} failed: {Said}");
    }

    /// <summary>SIGTERM, so that it can finish its files.</summary>
    public void Stop(TimeSpan limit)
    {
        if (_process.HasExited)
        {
            return;
        }

        using (var kill = Process.Start("/bin/kill", ["-TERM", _process.Id.ToString(CultureInfo.InvariantCulture)]))
        {
            kill.WaitForExit();
        }

        if (!_process.WaitForExit(limit))
        {
            throw new TimeoutException($"{_process.StartInfo.FileName} did not stop: {Said}");
        }
    }

    /// <summary>SIGKILL, to it and its children.</summary>
    public void Kill()
    {
        if (!_process.HasExited)
        {
            _process.Kill(entireProcessTree: true);
            _process.WaitForExit();
        }
    }

    public void Dispose()
    {
        Kill();
        _process.Dispose();
    }

    private long StatusKilobytes(string name)
    {
        string line = File.ReadLines($"/proc/{_process.Id}/status").First(l => l.StartsWith(name, StringComparison.Ordinal));
        return long.Parse(line[name.Length..].Replace("kB", "", StringComparison.Ordinal).Trim(), CultureInfo.InvariantCulture);
    }

    private void Heard(object sender, DataReceivedEventArgs e)
    {
        if (e.Data is not null)
        {
            lock (_said)
            {
                _said.Add(e.Data);
            }
        }
    }
}
