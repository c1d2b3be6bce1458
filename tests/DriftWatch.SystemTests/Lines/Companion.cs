using System.Diagnostics;

namespace DriftWatch.SystemTests.Lines;

/// <summary>A process beside the test: an instrument in Python, or socat. Killed when disposed.</summary>
internal sealed class Companion : IDisposable
{
    private readonly System.Diagnostics.Process _process;
    private readonly TaskCompletionSource _ready = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly List<string> _said = [];

    private Companion(string file, IEnumerable<string> arguments)
    {
        var start = new ProcessStartInfo(file) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        _process = new System.Diagnostics.Process { StartInfo = start };
        _process.OutputDataReceived += Heard;
        _process.ErrorDataReceived += Heard;
        _process.Start();
        _process.BeginOutputReadLine();
        _process.BeginErrorReadLine();
    }

    /// <summary>What it has said, for messages of a failed test.</summary>
    public string Said
    {
        get
        {
            lock (_said)
            {
                return string.Join('\n', _said);
            }
        }
    }

    /// <summary>A pair of pseudo-terminals joined to each other.</summary>
    public static async Task<Companion> Wire(string ours, string theirs)
    {
        Require("/usr/bin/socat", "socat");
        var socat = new Companion("/usr/bin/socat", [$"pty,raw,echo=0,link={ours}", $"pty,raw,echo=0,link={theirs}"]);
        for (int i = 0; i < 200 && !(Exists(ours) && Exists(theirs)); i++)
        {
            await Task.Delay(TimeSpan.FromMilliseconds(25), TimeProvider.System);
        }

        Assert.True(Exists(ours) && Exists(theirs), "socat made no pseudo-terminals: " + socat.Said);
        return socat;

        static bool Exists(string link) => File.Exists(link) && new FileInfo(link).ResolveLinkTarget(returnFinalTarget: true) is { Exists: true };
    }

    /// <summary>A script of this folder under Debian's own Python, once it has said that it is ready.</summary>
    public static Task<Companion> Script(string script, params string[] arguments) => Script("Lines", script, arguments);

    /// <summary>The same, of the service's tests.</summary>
    public static Task<Companion> ServiceScript(string script, params string[] arguments) => Script("Service", script, arguments);

    /// <summary>The same, of the tests of notices.</summary>
    public static Task<Companion> NoticeScript(string script, params string[] arguments)
    {
        Require("/usr/lib/python3/dist-packages/aiosmtpd/__init__.py", "python3-aiosmtpd");
        Require("/usr/lib/python3/dist-packages/gi/__init__.py", "python3-gi");
        return Script("Notices", script, arguments);
    }

    /// <summary>Any program of a package, which is ready when whoever asks for it finds it so.</summary>
    public static Companion Process(string path, string package, params string[] arguments)
    {
        Require(path, package);
        return new Companion(path, arguments);
    }

    /// <summary>Runs a program of a package to its end.</summary>
    public static async Task RunAsync(string path, string package, params string[] arguments)
    {
        using Companion companion = Process(path, package, arguments);
        await companion._process.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(30), TimeProvider.System);
        Assert.True(companion._process.ExitCode == 0, $"{path}: {companion.Said}");
    }

    private static async Task<Companion> Script(string folder, string script, string[] arguments)
    {
        Require("/usr/bin/python3", "python3");
        Require("/usr/lib/python3/dist-packages/serial/__init__.py", "python3-serial");
        Require("/usr/lib/python3/dist-packages/pymodbus/__init__.py", "python3-pymodbus");
        Require("/usr/lib/python3/dist-packages/serial_asyncio/__init__.py", "python3-serial-asyncio");
        string path = Path.Combine(AppContext.BaseDirectory, folder, "scripts", script);
        var companion = new Companion("/usr/bin/python3", [path, .. arguments]);
        try
        {
            await companion._ready.Task.WaitAsync(TimeSpan.FromSeconds(60), TimeProvider.System);
        }
        catch (TimeoutException)
        {
            Assert.Fail($"{script} did not start: {companion.Said}");
        }

        return companion;
    }

    public void Dispose()
    {
        if (!_process.HasExited)
        {
            _process.Kill();
            _process.WaitForExit();
        }

        _process.Dispose();
    }

    private static void Require(string path, string package)
    {
        if (!File.Exists(path))
        {
            Assert.Fail($"{path} is missing: apt-get install {package}");
        }
    }

    private void Heard(object sender, DataReceivedEventArgs e)
    {
        if (e.Data is null)
        {
            return;
        }

        lock (_said)
        {
            _said.Add(e.Data);
        }

        if (e.Data == "READY")
        {
            _ready.TrySetResult();
        }
    }
}
