using System.Diagnostics;
using System.Globalization;
using System.Net.NetworkInformation;
using System.Text;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks;

/// <summary>
/// What the real service takes of a core and of memory on the practice bench: 15 channels at 10 Hz, 4 at 1 Hz and frames
/// of 64 points twice a second, which is more than 16 channels at 10 Hz. Without a page, with a client that reads the
/// live stream, with a page open in a browser, and with streaming boards on pseudo-terminals beside the rig. Targets:
/// ≤ 5 % of a core with one page, ≤ 3 % more a serial port, ≤ 150 MB.
/// </summary>
public static class ServiceFigures
{
    private const string Chromium = "/usr/bin/chromium";
    private static readonly TimeSpan Limit = TimeSpan.FromSeconds(60);

    /// <summary>The built service.</summary>
    public static string Program
    {
        get
        {
            string path = Path.Combine(PracticeBench.Root, "src", "DriftWatch", "bin", "Release", "net10.0", "driftwatch.dll");
            return File.Exists(path) ? path : throw new InvalidOperationException($"{path} is missing: dotnet build DriftWatch.sln -c Release");
        }
    }

    public static void Run(TextWriter output, Size size)
    {
        TimeSpan span = TimeSpan.FromSeconds(size == Size.Full ? 60 : 5);
        output.WriteLine("service: the practice bench, 15 channels at 10 Hz, 4 at 1 Hz and frames of 64 points twice a second");
        double noPort;
        using (var folder = new TempFolder())
        {
            using ChildProcess service = Start(PracticeBench.BenchFilePath, folder.At("store"), out Uri page);
            Settle(size);
            noPort = Measure(output, service, span, "no page");
            WithStream(output, service, page, span, size);
            WithPage(output, service, page, span, size, folder);
            service.Stop(TimeSpan.FromSeconds(10));
        }

        double one = WithPorts(output, 1, span, size);
        double three = WithPorts(output, 3, span, size);
        output.WriteLine(
            $"service, a serial port: {one - noPort:0.0} % of a core for the first, {(three - noPort) / 3:0.0} % each for three (10 lines of 14 fields a second, 10 channels at 10 Hz a port; target 3 %)");
    }

    private static void WithStream(TextWriter output, ChildProcess service, Uri page, TimeSpan span, Size size)
    {
        using var client = new HttpClient();
        using var stop = new CancellationTokenSource();
        long bytes = 0;
        Task reading = Task.Run(async () =>
        {
            await using Stream stream = await client.GetStreamAsync(new Uri(page, "/api/v1/benches/practice/live"), stop.Token);
            byte[] buffer = new byte[8192];
            for (int read; (read = await stream.ReadAsync(buffer, stop.Token)) > 0;)
            {
                Interlocked.Add(ref bytes, read);
            }
        });
        Settle(size);
        long before = Interlocked.Read(ref bytes);
        Measure(output, service, span, "one client of the live stream", () => $", {(Interlocked.Read(ref bytes) - before) / span.TotalSeconds:N0} bytes/s");
        if (Interlocked.Read(ref bytes) == before)
        {
            throw new InvalidOperationException("The live stream brought nothing.");
        }

        stop.Cancel();
        try
        {
            reading.GetAwaiter().GetResult();
        }
        catch (OperationCanceledException)
        {
            // Asked for.
        }
    }

    private static void WithPage(TextWriter output, ChildProcess service, Uri page, TimeSpan span, Size size, TempFolder folder)
    {
        if (!File.Exists(Chromium))
        {
            throw new InvalidOperationException($"{Chromium} is missing: apt-get install chromium");
        }

        using var browser = new ChildProcess(
            Chromium, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
            "--remote-debugging-port=0", "--user-data-dir=" + folder.At("browser"), "--window-size=1280,900", page.ToString());
        Waiting.Until(() => Connections(page.Port) > 0, Limit, "the browser to open the page: " + browser.Said);
        Waiting.For(TimeSpan.FromSeconds(2));
        Settle(size);
        Measure(output, service, span, "one page open in Chromium", () =>
            Connections(page.Port) > 0 ? " (target 5 %, 150 MB)" : throw new InvalidOperationException("The page was closed meanwhile: " + browser.Said));
    }

    private static int Connections(int port) => IPGlobalProperties.GetIPGlobalProperties().GetActiveTcpConnections()
        .Count(c => c.LocalEndPoint.Port == port && c.State == TcpState.Established);

    /// <summary>The practice bench with boards that stream lines beside it; each board's ten inputs are channels.</summary>
    private static double WithPorts(TextWriter output, int ports, TimeSpan span, Size size)
    {
        using var folder = new TempFolder();
        var wires = new List<ChildProcess>();
        var far = new List<FileStream>();
        try
        {
            var bench = new StringBuilder(File.ReadAllText(PracticeBench.BenchFilePath));
            for (int port = 1; port <= ports; port++)
            {
                string near = folder.At($"board-{port}");
                string end = near + "-far";
                wires.Add(new ChildProcess("/usr/bin/socat", $"pty,raw,echo=0,link={near}", $"pty,raw,echo=0,link={end}"));
                Waiting.Until(() => File.Exists(near) && File.Exists(end), Limit, "socat to make pseudo-terminals: " + wires[^1].Said);
                far.Add(new FileStream(end, FileMode.Open, FileAccess.Write, FileShare.ReadWrite, bufferSize: 0));
                AddBoard(bench, port, near);
            }

            string benchFile = folder.At("bench.toml");
            File.WriteAllText(benchFile, bench.ToString());
            using var stop = new CancellationTokenSource();
            Task emitting = Emit(far, stop.Token);
            using ChildProcess service = Start(benchFile, folder.At("store"), out Uri page);
            Settle(size);
            double share = Measure(output, service, span, ports == 1 ? "no page, one serial port" : $"no page, {ports} serial ports");
            using (var client = new HttpClient())
            {
                string health = client.GetStringAsync(new Uri(page, "/api/v1/benches/practice/channels")).GetAwaiter().GetResult();
                if (health.Contains("line-down", StringComparison.Ordinal) || !health.Contains($"board-{ports}-rf-head-4", StringComparison.Ordinal))
                {
                    throw new InvalidOperationException("The boards were not read: " + health);
                }
            }

            service.Stop(TimeSpan.FromSeconds(10));
            stop.Cancel();
            emitting.GetAwaiter().GetResult();
            return share;
        }
        finally
        {
            far.ForEach(stream => stream.Dispose());
            wires.ForEach(wire => wire.Dispose());
        }
    }

    private static void AddBoard(StringBuilder bench, int port, string device)
    {
        bench.Append(CultureInfo.InvariantCulture, $$"""


            [[instrument]]
            id = "board-{{port}}"
            profile = "line-streamer"
            serial = { port = "{{device}}", baud = 115200 }

            """);
        string[] inputs =
        [
            "supply-volts", "regulated-volts", "rail-volts", "vacuum-volts", "rf-head-1", "rf-head-2", "rf-head-3", "rf-head-4", "control-track", "servo-lock",
        ];
        foreach (string input in inputs)
        {
            string unit = input == "servo-lock" ? "1" : "V";
            bench.Append(CultureInfo.InvariantCulture, $$"""

                [[channel]]
                id = "board-{{port}}-{{input}}"
                unit = "{{unit}}"
                instrument = "board-{{port}}"
                input = "{{input}}"
                period = "100 ms"

                """);
        }
    }

    /// <summary>Ten lines a second to each port, with numbers that wander by a few steps.</summary>
    private static Task Emit(List<FileStream> far, CancellationToken stop) => Task.Run(async () =>
    {
        var random = new Random(5);
        using var timer = new PeriodicTimer(TimeSpan.FromMilliseconds(100));
        for (int sequence = 0; !stop.IsCancellationRequested; sequence++)
        {
            var body = new StringBuilder("S,").Append(sequence);
            for (int field = 1; field <= 14; field++)
            {
                body.Append(',').Append((field == 14 ? 1 : 2.5 + (random.Next(-20, 21) / 10_000.0)).ToString("0.0000", CultureInfo.InvariantCulture));
            }

            ushort crc = Checksums.Crc16(Encoding.ASCII.GetBytes(body.ToString()));
            byte[] line = Encoding.ASCII.GetBytes($"{body}*{crc:X4}\n");
            foreach (FileStream stream in far)
            {
                await stream.WriteAsync(line, CancellationToken.None);
            }

            await timer.WaitForNextTickAsync(CancellationToken.None);
        }
    }, CancellationToken.None);

    private static ChildProcess Start(string bench, string store, out Uri page)
    {
        var service = new ChildProcess("dotnet", Program, "watch", bench, "--store", store, "--listen", "127.0.0.1:0");
        try
        {
            string said = service.WaitFor("The page is at ", Limit);
            string address = said[(said.IndexOf("The page is at ", StringComparison.Ordinal) + "The page is at ".Length)..];
            page = new Uri(address[..address.IndexOf(' ', StringComparison.Ordinal)]);
            return service;
        }
        catch
        {
            service.Dispose();
            throw;
        }
    }

    /// <summary>Compiling of what runs often is over after half a minute; a smoke run does not wait for it.</summary>
    private static void Settle(Size size) => Waiting.For(TimeSpan.FromSeconds(size == Size.Full ? 20 : 1));

    private static double Measure(TextWriter output, ChildProcess service, TimeSpan span, string scene, Func<string>? more = null)
    {
        TimeSpan before = service.Processor;
        long start = Stopwatch.GetTimestamp();
        Waiting.For(span);
        double share = 100 * (service.Processor - before).TotalSeconds / Stopwatch.GetElapsedTime(start).TotalSeconds;
        output.WriteLine($"service, {scene}: {share:0.0} % of a core over {span.TotalSeconds:0} s, {service.Resident / 1e6:0} MB resident{more?.Invoke()}");
        return share;
    }
}
