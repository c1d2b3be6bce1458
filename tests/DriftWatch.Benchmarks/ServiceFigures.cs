using System.Diagnostics;
using System.Net.NetworkInformation;
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
        using var boards = new StreamingBoards(folder, ports);
        string benchFile = folder.At("bench.toml");
        File.WriteAllText(benchFile, File.ReadAllText(PracticeBench.BenchFilePath) + boards.BenchText);
        var random = new Random(5);
        using var talking = boards.Talk((_, field) => field == StreamingBoards.Fields - 1 ? 1 : 2.5 + (random.Next(-20, 21) / 10_000.0));
        using ChildProcess service = Start(benchFile, folder.At("store"), out Uri page);
        Settle(size);
        double share = Measure(output, service, span, ports == 1 ? "no page, one serial port" : $"no page, {ports} serial ports");
        StreamingBoards.CheckRead(page, "practice", ports);
        service.Stop(TimeSpan.FromSeconds(10));
        return share;
    }

    /// <summary>The real service on a free port; it is ended when disposed.</summary>
    internal static ChildProcess Start(string bench, string store, out Uri page)
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
    internal static void Settle(Size size) => Waiting.For(TimeSpan.FromSeconds(size == Size.Full ? 20 : 1));

    /// <summary>Its share of a core over a span, in percent of one core, written down.</summary>
    internal static double Measure(TextWriter output, ChildProcess service, TimeSpan span, string scene, Func<string>? more = null)
    {
        TimeSpan before = service.Processor;
        long start = Stopwatch.GetTimestamp();
        Waiting.For(span);
        double share = 100 * (service.Processor - before).TotalSeconds / Stopwatch.GetElapsedTime(start).TotalSeconds;
        output.WriteLine($"service, {scene}: {share:0.0} % of a core over {span.TotalSeconds:0} s, {service.Resident / 1e6:0} MB resident{more?.Invoke()}");
        return share;
    }
}
