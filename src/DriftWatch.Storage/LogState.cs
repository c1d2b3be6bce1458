using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Storage;

/// <summary>What the inputs stored so far say about the ones to come: the end of the log, UTC, the bench, each channel's calibration version.</summary>
internal sealed class LogState
{
    private readonly Dictionary<int, int> _versions = [];

    public long LastNumber { get; private set; }

    public EngineTime LastTime { get; private set; }

    /// <summary>Replaced by a longer copy at each clock input, so that whoever reads one on another thread is not disturbed.</summary>
    public AnchorTable Anchors { get; private set; } = new();

    public BenchDefinition? Bench { get; private set; }

    /// <summary>Number of the clock input that began the stretch now running; 0 before the first.</summary>
    public long Stretch { get; private set; }

    /// <summary>A clock input after which blocks begin anew: before it nobody looked, or UTC ran differently.</summary>
    public static bool BeginsStretch(in EngineInput input) =>
        input.Kind == InputKind.Clock
        && input.ClockEvent.Kind is ClockEventKind.Started or ClockEventKind.WallStep or ClockEventKind.Resumed;

    public IReadOnlyDictionary<int, int> Versions => _versions;

    /// <summary>Moves the end of the log; never back.</summary>
    public void Reach(long number, EngineTime time)
    {
        LastNumber = Math.Max(LastNumber, number);
        LastTime = time > LastTime ? time : LastTime;
    }

    public void AddClock(long number, TimeAnchor anchor, bool beginsStretch)
    {
        var longer = new AnchorTable();
        foreach (TimeAnchor known in Anchors.Anchors)
        {
            longer.Add(known);
        }

        longer.Add(anchor);
        Anchors = longer;
        if (beginsStretch)
        {
            Stretch = number;
        }
    }

    public void LoadClock(IEnumerable<(long Number, TimeAnchor Anchor, bool BeginsStretch)> clocks)
    {
        var all = new AnchorTable();
        foreach ((long number, TimeAnchor anchor, bool begins) in clocks)
        {
            all.Add(anchor);
            Stretch = begins ? number : Stretch;
        }

        Anchors = all;
    }

    public void SetBench(BenchDefinition bench)
    {
        Bench = bench;
        foreach (ChannelDefinition channel in bench.Channels)
        {
            SetVersion(channel.Key, channel.Calibration.Version);
        }
    }

    /// <summary>Versions count up, so the greatest is in force: a bench file that is read again does not undo what was entered since.</summary>
    public void SetVersion(int channel, int version) => _versions[channel] = Math.Max(version, _versions.GetValueOrDefault(channel));

    public void Apply(in EngineInput input)
    {
        Reach(input.Number, input.Time);
        switch (input.Kind)
        {
            case InputKind.Clock:
                AddClock(input.Number, input.ClockEvent.Anchor, BeginsStretch(input));
                break;
            case InputKind.Bench:
                SetBench(input.Bench);
                break;
            case InputKind.Calibration:
                SetVersion(input.Channel, input.Calibration.Version);
                break;
        }
    }
}
