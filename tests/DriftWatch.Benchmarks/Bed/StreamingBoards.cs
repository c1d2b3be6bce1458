using System.Globalization;
using System.Text;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Benchmarks.Bed;

/// <summary>Boards that stream ten lines a second on pseudo-terminals, ten inputs of each a channel: instruments that this process speaks for.</summary>
internal sealed class StreamingBoards : IDisposable
{
    /// <summary>Fields of a line; the last one is the servo lock.</summary>
    public const int Fields = 14;

    private static readonly string[] Inputs =
    [
        "supply-volts", "regulated-volts", "rail-volts", "vacuum-volts", "rf-head-1", "rf-head-2", "rf-head-3", "rf-head-4", "control-track", "servo-lock",
    ];

    private readonly List<ChildProcess> _wires = [];
    private readonly List<FileStream> _far = [];

    public StreamingBoards(TempFolder folder, int count)
    {
        var bench = new StringBuilder();
        for (int board = 1; board <= count; board++)
        {
            string near = folder.At($"board-{board}");
            string end = near + "-far";
            _wires.Add(new ChildProcess("/usr/bin/socat", $"pty,raw,echo=0,link={near}", $"pty,raw,echo=0,link={end}"));
            Waiting.Until(() => File.Exists(near) && File.Exists(end), TimeSpan.FromSeconds(60), "socat to make pseudo-terminals: " + _wires[^1].Said);
            _far.Add(new FileStream(end, FileMode.Open, FileAccess.Write, FileShare.ReadWrite, bufferSize: 0));
            Add(bench, board, near);
        }

        BenchText = bench.ToString();
    }

    /// <summary>What a bench file has to say of them.</summary>
    public string BenchText { get; }

    /// <summary>A bench of nothing else.</summary>
    public string WholeBenchText => """
        [bench]
        id = "boards"
        label = "Boards"

        [machine]
        label = "Practice machine"
        standard = "525/60"

        """ + BenchText;

    /// <summary>Speaks until disposed. <paramref name="value"/> gives the value of a line's number and field; it is called as the line goes out.</summary>
    public Talking Talk(Func<int, int, double> value) => new(_far, value);

    /// <exception cref="InvalidOperationException">The service does not read all of them.</exception>
    public static void CheckRead(Uri page, string bench, int count)
    {
        using var client = new HttpClient();
        string channels = client.GetStringAsync(new Uri(page, $"/api/v1/benches/{bench}/channels")).GetAwaiter().GetResult();
        if (channels.Contains("line-down", StringComparison.Ordinal) || !channels.Contains($"board-{count}-rf-head-4", StringComparison.Ordinal))
        {
            throw new InvalidOperationException("The boards were not read: " + channels);
        }
    }

    public void Dispose()
    {
        _far.ForEach(stream => stream.Dispose());
        _wires.ForEach(wire => wire.Dispose());
    }

    private static void Add(StringBuilder bench, int board, string device)
    {
        bench.Append(CultureInfo.InvariantCulture, $$"""


            [[instrument]]
            id = "board-{{board}}"
            profile = "line-streamer"
            serial = { port = "{{device}}", baud = 115200 }

            """);
        foreach (string input in Inputs)
        {
            string unit = input == "servo-lock" ? "1" : "V";
            bench.Append(CultureInfo.InvariantCulture, $$"""

                [[channel]]
                id = "board-{{board}}-{{input}}"
                unit = "{{unit}}"
                instrument = "board-{{board}}"
                input = "{{input}}"
                period = "100 ms"

                """);
        }
    }

    /// <summary>Ten lines a second to every board.</summary>
    internal sealed class Talking : IDisposable
    {
        private readonly CancellationTokenSource _stop = new();
        private readonly Task _task;

        public Talking(List<FileStream> to, Func<int, int, double> value) => _task = Task.Run(() => RunAsync(to, value, _stop.Token));

        /// <summary>When a line had gone out, in ms since 1970, by its number.</summary>
        public List<double> SaidAt { get; } = [];

        public void Dispose()
        {
            _stop.Cancel();
            _task.GetAwaiter().GetResult();
            _stop.Dispose();
        }

        private async Task RunAsync(List<FileStream> to, Func<int, int, double> value, CancellationToken stop)
        {
            using var timer = new PeriodicTimer(TimeSpan.FromMilliseconds(100), TimeProvider.System);
            for (int sequence = 0; !stop.IsCancellationRequested; sequence++)
            {
                var body = new StringBuilder("S,").Append(sequence);
                for (int field = 0; field < Fields; field++)
                {
                    body.Append(',').Append(value(sequence, field).ToString("0.0000", CultureInfo.InvariantCulture));
                }

                ushort crc = Checksums.Crc16(Encoding.ASCII.GetBytes(body.ToString()));
                byte[] line = Encoding.ASCII.GetBytes($"{body}*{crc:X4}\n");
                foreach (FileStream stream in to)
                {
                    await stream.WriteAsync(line, CancellationToken.None);
                }

                lock (SaidAt)
                {
                    SaidAt.Add(UtcText.ToNanoseconds(TimeProvider.System.GetUtcNow()) / 1e6);
                }

                await timer.WaitForNextTickAsync(CancellationToken.None);
            }
        }
    }
}
