using System.Globalization;
using System.IO.Compression;
using DriftWatch.Cli;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Recordings;

namespace DriftWatch.Tests.Reports.Dossiers;

/// <summary>
/// The failing compressor as another bench would have recorded it: without some of its channels, or with a counter beside it; and that
/// tape's way through the book by command line, afterwards.
/// </summary>
internal sealed class AlteredRecording : IDisposable
{
    private const string Recording = "replay-data/failing-compressor/recording.csv.gz";
    private const string Frames = "recording.timing-error.frames.csv.gz";
    private readonly RecordingFolder _folder = new();

    public string Store => _folder.PathOf("store");

    public string PathOf(string name) => _folder.PathOf(name);

    public void Dispose() => _folder.Dispose();

    public static long Utc(string time) => UtcText.TryParse($"2026-01-15T{time}Z", out long utc) ? utc : throw new FormatException(time);

    /// <param name="without">Channels that this bench does not have.</param>
    /// <param name="counter">What its counter reads, in seconds; null where it is silent.</param>
    public async Task ImportAsync(IReadOnlySet<string> without, Func<long, double?>? counter = null)
    {
        string folder = Directory.CreateDirectory(_folder.PathOf("altered")).FullName;
        WriteRows(Path.Combine(folder, "recording.csv.gz"), without, counter);
        string from = GuideAndHeadTests.RepositoryFile(Recording);
        File.Copy(Path.Combine(Path.GetDirectoryName(from)!, Frames), Path.Combine(folder, Frames));
        string[] tables = (await File.ReadAllTextAsync(Path.Combine(Path.GetDirectoryName(from)!, "bench.toml"))).Split("[[channel]]");
        string bench = string.Join("[[channel]]", tables.Where(t => !without.Any(id => t.Contains($"id = \"{id}\"", StringComparison.Ordinal))));
        await File.WriteAllTextAsync(Path.Combine(folder, "bench.toml"), counter is null ? bench : bench + Counter);
        Directory.CreateDirectory(Path.Combine(folder, "counting-line"));
        await File.WriteAllTextAsync(Path.Combine(folder, "counting-line", "profile.toml"), Profile);
        await DoneAsync("import", Path.Combine(folder, "recording.csv.gz"), "--store", Store);
    }

    /// <summary>A tape, its transfer and a pass with a run, entered by hand.</summary>
    public async Task RunAsync(string began, string ended, string? mark = null)
    {
        const string tape = "0190a6f1-0001-7000-8000-000000000001";
        await EnterAsync("tape", "07:50:00", "--identifier", "MC-0094", "--standard", "525/60", "--speed", "15", "--tape", tape);
        await EnterAsync("open", "07:52:00", "--tape", tape, "--transfer", "0190a6f0-0002-7000-8000-000000000001");
        await EnterAsync("pass", "07:55:00");
        await EnterAsync("begin", began);
        if (mark is not null)
        {
            await EnterAsync("note", mark, "--mark");
        }

        await EnterAsync("end", ended);
    }

    public static async Task<string> DoneAsync(params string[] arguments)
    {
        (int code, string output, string error) = await CommandLineTests.RunAsync(arguments);
        Assert.True(code == ExitCode.Done, error);
        return output;
    }

    private Task<string> EnterAsync(string verb, string at, params string[] more) =>
        DoneAsync(["transfer", verb, Store, "--by", "Ida Wren", "--about", $"2026-01-15T{at}Z", .. more]);

    private static void WriteRows(string file, IReadOnlySet<string> without, Func<long, double?>? counter)
    {
        using var rows = new StreamReader(new GZipStream(File.OpenRead(GuideAndHeadTests.RepositoryFile(Recording)), CompressionMode.Decompress));
        using var altered = new StreamWriter(new GZipStream(File.Create(file), CompressionLevel.Fastest));
        string[] names = rows.ReadLine()!.Split(',');
        Write([.. names, .. counter is null ? Array.Empty<string>() : ["tape-counter"]]);
        while (rows.ReadLine()?.Split(',') is { } row)
        {
            long utc = UtcText.TryParse(row[0], out long at) ? at : throw new FormatException(row[0]);
            Write([.. row, .. counter is null ? Array.Empty<string>() : [string.Create(CultureInfo.InvariantCulture, $"{counter(utc)}")]]);
        }

        void Write(string[] cells) => altered.Write(string.Join(',', cells.Where((_, i) => i >= names.Length || !without.Contains(names[i]))) + "\n");
    }

    private const string Profile = """
        [instrument]
        name = "counting-line"
        title = "Counting line of the tests"
        protocol = "lines"

        [lines]
        delimiter = ","
        fields = 1

        [[input]]
        name = "tape-counter"
        unit = "s"
        field = 1
        """;

    private const string Counter = """

        [[instrument]]
        id = "counting"
        profile = "counting-line"
        serial = { port = "/dev/none", baud = 9600 }

        [[channel]]
        id = "tape-counter"
        label = "Tape counter"
        role = "tape-counter"
        unit = "s"
        instrument = "counting"
        input = "tape-counter"
        period = "1 s"
        """;
}
