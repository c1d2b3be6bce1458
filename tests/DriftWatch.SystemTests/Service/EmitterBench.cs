using System.Globalization;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.SystemTests.Lines;

namespace DriftWatch.SystemTests.Service;

/// <summary>A line the emitter sent, by its own log.</summary>
internal sealed record SentLine(int Sequence, double SentAtUnixSeconds, string Values);

/// <summary>
/// A bench of one emitter on a pseudo-terminal: what the service stored can be held against what was really sent. The
/// channels' period is shorter than the emitter's, so that a burst after a stall is never reduced and each line is a reading.
/// </summary>
internal sealed class EmitterBench : IDisposable
{
    public const string Id = "emitter-bench";
    public const int LinesPerSecond = 20;
    private const int Fields = 4;

    private Companion? _wire;
    private Companion? _emitter;

    private EmitterBench(string folder) => Folder = folder;

    public string Folder { get; }

    public string BenchFile => Path.Combine(Folder, "bench.toml");

    public string PortPath => Path.Combine(Folder, "port");

    private string Log => Path.Combine(Folder, "sent.log");

    public static EmitterBench Create()
    {
        var bench = new EmitterBench(Directory.CreateTempSubdirectory("driftwatch-service-").FullName);
        string profile = Path.Combine(bench.Folder, "emitter");
        Directory.CreateDirectory(profile);
        File.WriteAllText(Path.Combine(profile, "profile.toml"), """
            [instrument]
            name = "emitter"
            title = "Line emitter of the tests"
            protocol = "lines"

            [lines]
            delimiter = ","
            sequence = true
            checksum = "crc16"
            fields = 4
            """ + string.Concat(Enumerable.Range(1, Fields).Select(i => $"\n\n[[input]]\nname = \"v{i}\"\nunit = \"V\"\nfield = {i}")));
        File.WriteAllText(bench.BenchFile, $$"""
            [bench]
            id = "{{Id}}"
            label = "Emitter bench"

            [machine]
            label = "None"

            [[instrument]]
            id = "emitter"
            profile = "emitter"
            serial = { port = "{{bench.PortPath}}", baud = 115200 }
            """ + string.Concat(Enumerable.Range(1, Fields).Select(i => $"\n\n[[channel]]\nid = \"v{i}\"\nlabel = \"V{i}\"\nunit = \"V\"\ninstrument = \"emitter\"\ninput = \"v{i}\"\nperiod = \"20 ms\"")) + "\n");
        return bench;
    }

    public async Task PlugIn()
    {
        _wire = await Companion.Wire(PortPath, PortPath + "-far");
        _emitter = await Companion.ServiceScript(
            "stamped_emitter.py", PortPath + "-far", Log, LinesPerSecond.ToString(CultureInfo.InvariantCulture));
    }

    public void Unplug()
    {
        _emitter?.Dispose();
        _wire?.Dispose();
        _emitter = null;
        _wire = null;
    }

    public IReadOnlyList<SentLine> Sent() =>
    [
        .. File.ReadAllLines(Log).Select(l => l.Split(' ')).Where(p => p.Length == 2 + Fields).Select(p => new SentLine(
            int.Parse(p[0], CultureInfo.InvariantCulture),
            double.Parse(p[1], CultureInfo.InvariantCulture),
            Key(p[2..].Select(v => double.Parse(v, CultureInfo.InvariantCulture))))),
    ];

    /// <summary>
    /// The sequence numbers of the lines in a store, in the order of their instants; fails on a line nobody sent. A line
    /// of which only some readings are there is left out, so it counts as lost where it is due: on a loaded machine
    /// a reading comes late, and what it came late for may have been committed before it.
    /// </summary>
    public IReadOnlyList<int> Stored(string store)
    {
        using var reader = new BenchReader(Path.Combine(store, Id));
        IReadOnlyDictionary<string, int> keys = reader.ChannelKeys();
        Dictionary<EngineTime, double>[] columns =
        [
            .. Enumerable.Range(1, Fields).Select(i => reader
                .ReadSeries(keys[$"v{i}"], EngineTime.MinValue, EngineTime.MaxValue).Readings
                .Where(r => !r.Reading.IsFault).ToDictionary(r => r.At, r => r.Reading.Raw)),
        ];

        // The emitter's log is read last: what is stored by now was logged before it was sent.
        IReadOnlyList<SentLine> sent = Sent();
        Dictionary<string, int> known = sent.ToDictionary(s => s.Values, s => s.Sequence, StringComparer.Ordinal);
        HashSet<string>[] values = [.. Enumerable.Range(0, Fields).Select(i => sent.Select(s => s.Values.Split(' ')[i]).ToHashSet(StringComparer.Ordinal))];
        for (int i = 0; i < Fields; i++)
        {
            Assert.DoesNotContain(columns[i].Values.Select(v => Key([v])), v => !values[i].Contains(v));
        }

        var sequences = new List<int>();
        foreach (EngineTime at in columns[0].Keys.Where(at => columns.All(c => c.ContainsKey(at))).Order())
        {
            string key = Key(columns.Select(c => c[at]));
            Assert.True(known.TryGetValue(key, out int sequence), $"The store holds {key} at {at}, which was never sent.");
            sequences.Add(sequence);
        }

        return sequences;
    }

    /// <summary>What a second reader finds committed now; nothing while there is no store to read.</summary>
    public IReadOnlyList<int> CommittedNow(string store)
    {
        try
        {
            return Stored(store);
        }
        catch (StoreException)
        {
            return [];
        }
    }

    public void Dispose()
    {
        Unplug();
        Directory.Delete(Folder, recursive: true);
    }

    private static string Key(IEnumerable<double> values) =>
        string.Join(' ', values.Select(v => v.ToString("R", CultureInfo.InvariantCulture)));
}
