using DriftWatch.Acquisition.Recordings;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Running;

/// <summary>An exported log, as it was judged live.</summary>
internal sealed class LogSource(string path) : IInputSource
{
    private readonly EngineLogReader _reader = new(path);

    public double Progress => _reader.Progress;

    public IReadOnlyList<string> Notices => _reader.Truncated
        ? [$"{path}: the log has no end line, so it was cut short; what is there was judged"]
        : [];

    public bool TryRead(out EngineInput input) => _reader.TryRead(out input);

    /// <summary>Every bench that was in force in a log, the last of them last; reads it once through.</summary>
    public static IReadOnlyList<BenchDefinition> BenchesOf(string path)
    {
        var benches = new List<BenchDefinition>();
        using var reader = new EngineLogReader(path);
        while (reader.TryRead(out EngineInput input))
        {
            if (input.Kind == InputKind.Bench)
            {
                benches.RemoveAll(b => b.SourceHash == input.Bench.SourceHash);
                benches.Add(input.Bench);
            }
        }

        return benches;
    }

    public void Dispose() => _reader.Dispose();
}

/// <summary>A log or a store as it would have been judged with another bench file.</summary>
internal sealed class OtherBench(IInputSource source, BenchDefinition instead) : IInputSource
{
    public double Progress => source.Progress;

    public IReadOnlyList<string> Notices => source.Notices;

    public bool TryRead(out EngineInput input)
    {
        if (!source.TryRead(out input))
        {
            return false;
        }

        if (input.Kind == InputKind.Bench)
        {
            input = input with { Payload = WithKeysOf(instead, input.Bench) };
        }

        return true;
    }

    public void Dispose() => source.Dispose();

    /// <summary>The log speaks of channels by the keys of the bench it was made with; the other bench takes them over by id.</summary>
    public static BenchDefinition WithKeysOf(BenchDefinition instead, BenchDefinition logged)
    {
        int next = logged.Channels.Count == 0 ? 0 : logged.Channels.Max(c => c.Key) + 1;
        var channels = new List<ChannelDefinition>();
        foreach (ChannelDefinition channel in instead.Channels)
        {
            ChannelDefinition? was = logged.Channels.FirstOrDefault(
                c => c.Id == channel.Id || channel.Aliases.Contains(c.Id) || c.Aliases.Contains(channel.Id));
            channels.Add((was is null ? channel : AsRecorded(channel, was)) with { Key = was?.Key ?? next++ });
        }

        return instead with { Channels = channels };
    }

    /// <summary>What was imported from a plain recording is in engineering units already; the other bench would convert it again.</summary>
    private static ChannelDefinition AsRecorded(ChannelDefinition channel, ChannelDefinition was)
    {
        if (was.RawUnit == channel.RawUnit || !Unit.Parse(was.RawUnit).ConvertsTo(Unit.Parse(channel.Unit)))
        {
            return channel;
        }

        var line = Affine.Between(Unit.Parse(was.RawUnit), Unit.Parse(channel.Unit));
        return channel with { RawUnit = was.RawUnit, Calibration = new LineCalibration(line.Gain, line.Offset) };
    }
}

/// <summary>
/// A plain recording, judged against a bench file. A channel that has no column was not recorded, which is not the same
/// as silent: it is left out of the bench that judges, and named in a notice.
/// </summary>
internal sealed class CsvSource : IInputSource
{
    private readonly RecordingInputs _inputs;
    private readonly string? _leftOut;

    public CsvSource(string path, BenchDefinition bench, bool ignoreUnknownColumns)
    {
        _inputs = new RecordingInputs(path, bench, ignoreUnknownColumns);
        if (_inputs.AbsentChannels is { Count: > 0 } absent)
        {
            _inputs.Dispose();
            BenchDefinition recorded = bench with { Channels = [.. bench.Channels.Where(c => !absent.Contains(c.Id))] };
            _inputs = new RecordingInputs(path, recorded, ignoreUnknownColumns);
            _leftOut = $"{path}: no column for {string.Join(", ", absent)}; judged without";
        }
    }

    public double Progress => _inputs.BytesInAll == 0 ? 1 : (double)_inputs.BytesTaken / _inputs.BytesInAll;

    public IReadOnlyList<string> Notices =>
        [.. _leftOut is null ? [] : new[] { _leftOut }, .. _inputs.Notices.All.Select(n => n.ToString())];

    public bool TryRead(out EngineInput input) => _inputs.Next(out input);

    public void Dispose() => _inputs.Dispose();
}
