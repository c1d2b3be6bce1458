using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Running;

/// <summary>
/// A store read as if the calibrations that were applied back had been entered at the instant from which they hold: for plots, exports and
/// a re-judgement. The raw readings are the store's own; input numbers count on by what was put in.
/// </summary>
internal sealed class AppliedBack : IInputSource
{
    private readonly IInputSource _source;
    private readonly List<(int Channel, Calibration Calibration, EngineTime From)> _pending;
    private readonly Dictionary<int, Calibration> _given = [];
    private readonly Dictionary<int, ChannelDefinition> _channels = [];
    private readonly Queue<EngineInput> _next = new();
    private readonly int _count;
    private long _shift;

    private AppliedBack(IInputSource source, IReadOnlyList<(int Channel, Calibration Calibration, EngineTime From)> calibrations)
    {
        _source = source;
        _pending = [.. calibrations.OrderBy(c => c.From.Nanoseconds).ThenBy(c => c.Calibration.Version)];
        _count = calibrations.Count;
        Ids = [.. calibrations.Select(c => c.Calibration.Id ?? Guid.Empty)];
    }

    /// <summary>Of the calibrations that were applied back, in the order of their entry.</summary>
    public IReadOnlyList<Guid> Ids { get; }

    public double Progress => _source.Progress;

    public IReadOnlyList<string> Notices =>
    [
        .. _source.Notices,
        $"{_count} calibration{(_count == 1 ? " was" : "s were")} applied back to readings of before {(_count == 1 ? "its" : "their")} entry; 'driftwatch calibrations' names {(_count == 1 ? "it" : "them")}",
    ];

    /// <summary>The feed itself where it is of no store, or nothing was applied back in it.</summary>
    /// <param name="opened">What the person named.</param>
    /// <param name="feed">The same, or it after its opening was looked at.</param>
    public static IInputSource Over(IInputSource opened, IInputSource feed) =>
        (opened switch { StoreSource store => store.AppliedBack(), SpanSource span => span.AppliedBack(), _ => [] }) is { Count: > 0 } calibrations
            ? new AppliedBack(feed, calibrations)
            : feed;

    /// <summary>The calibrations of a store that were applied back to past readings, with the instant from which each holds, oldest entry first.</summary>
    public static IReadOnlyList<(int Channel, Calibration Calibration, EngineTime From)> In(BenchReader reader)
    {
        AnchorTable anchors = reader.ReadAnchors();
        return
        [
            .. reader.Calibrations().Where(c => c.Calibration.IsAppliedBack)
                .Select(c => (c.Channel, c.Calibration, anchors.FromUtcNanoseconds(c.Calibration.ValidFromUtcNanoseconds!.Value))),
        ];
    }

    public bool TryRead(out EngineInput input)
    {
        while (_next.Count == 0 && _source.TryRead(out EngineInput read))
        {
            Take(read);
        }

        return _next.TryDequeue(out input);
    }

    public void Dispose() => _source.Dispose();

    private void Take(EngineInput read)
    {
        for (int i = 0; i < _pending.Count && _pending[i].From <= read.Time && !read.IsLate;)
        {
            (int channel, Calibration calibration, _) = _pending[i];
            if (!_channels.TryGetValue(channel, out ChannelDefinition? definition))
            {
                i++; // its channel is not there yet
                continue;
            }

            _pending.RemoveAt(i);
            if (Fits(calibration, definition) && !(_given.TryGetValue(channel, out Calibration? newer) && newer.Version > calibration.Version))
            {
                PutIn(read, channel, calibration);
            }
        }

        if (read.Kind == InputKind.Calibration && _given.TryGetValue(read.Channel, out Calibration? given) && given.Version >= read.Calibration.Version)
        {
            return; // what holds here already was entered after it, or is it
        }

        EngineInput before = read;
        _next.Enqueue(read with { Number = read.Number + _shift });
        if (read.Kind == InputKind.Bench)
        {
            TakeBench(before);
        }
    }

    /// <summary>An edited bench file replaces what was entered before it, and not what was entered after.</summary>
    private void TakeBench(in EngineInput input)
    {
        foreach (ChannelDefinition channel in input.Bench.Channels)
        {
            bool edited = _channels.TryGetValue(channel.Key, out ChannelDefinition? before) && before.Calibration.Version != channel.Calibration.Version;
            _channels[channel.Key] = channel;
            if (edited && _given.TryGetValue(channel.Key, out Calibration? given) && given.Version > channel.Calibration.Version && Fits(given, channel))
            {
                _shift++;
                _next.Enqueue(EngineInput.OfCalibration(input.Time, channel.Key, given) with { Number = input.Number + _shift });
            }
        }
    }

    private void PutIn(in EngineInput before, int channel, Calibration calibration)
    {
        _given[channel] = calibration;
        _next.Enqueue(EngineInput.OfCalibration(before.Time, channel, calibration) with { Number = before.Number + _shift });
        _shift++;
    }

    /// <summary>Made for the unit that the channel had then; another one's numbers would mean something else.</summary>
    private static bool Fits(Calibration calibration, ChannelDefinition channel) =>
        calibration.Document is not { } document || !document.TryGetProperty("unit", out System.Text.Json.JsonElement unit) || unit.GetString() == channel.Unit;
}
