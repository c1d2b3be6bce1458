using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;

namespace DriftWatch.Running;

/// <summary>An exported log, as it was judged live; or, with another bench file, as it would have been judged with that.</summary>
internal sealed class LogSource(string path, BenchDefinition? instead = null) : IInputSource
{
    private readonly EngineLogReader _reader = new(path);

    public double Progress => _reader.Progress;

    public IReadOnlyList<string> Notices => _reader.Truncated
        ? [$"{path}: the log has no end line, so it was cut short; what is there was judged"]
        : [];

    public bool TryRead(out EngineInput input)
    {
        if (!_reader.TryRead(out input))
        {
            return false;
        }

        if (instead is not null && input.Kind == InputKind.Bench)
        {
            input = input with { Payload = WithKeysOf(instead, input.Bench) };
        }

        return true;
    }

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

    /// <summary>The log speaks of channels by the keys of the bench it was made with; the other bench takes them over by id.</summary>
    private static BenchDefinition WithKeysOf(BenchDefinition instead, BenchDefinition logged)
    {
        int next = logged.Channels.Count == 0 ? 0 : logged.Channels.Max(c => c.Key) + 1;
        return instead with
        {
            Channels =
            [
                .. instead.Channels.Select(channel => channel with
                {
                    Key = logged.Channels.FirstOrDefault(c => c.Id == channel.Id || channel.Aliases.Contains(c.Id) || c.Aliases.Contains(channel.Id))?.Key ?? next++,
                }),
            ],
        };
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
