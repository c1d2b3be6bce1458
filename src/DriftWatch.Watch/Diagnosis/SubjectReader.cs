using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>Reads what the subjects of signatures do now: movements of channels and quantities, and what open findings say.</summary>
internal sealed class SubjectReader
{
    private static readonly TimeSpan HoldOver = TimeSpan.FromSeconds(3);
    private const double TickSeconds = 0.1;

    private static readonly string AnyHead = Slugs.Of(ChannelRole.RfLevel);
    private static readonly string Air = Slugs.Of(ChannelRole.RegulatedAir);
    private static readonly string Difference = Slugs.Of(QuantityKind.RfDifference);
    public static readonly string Spread = Slugs.Of(QuantityKind.RfSpread);
    private static readonly string Period = Slugs.Of(QuantityKind.CompressorPeriod);

    // Source: derived, 24 litres from 78 to 100 psi and back at 35 l/min of use and twice that of delivery.
    private static readonly TimeSpan UsualCycle = TimeSpan.FromMinutes(2.5);

    // In tolerances. Source: common practice, no source.
    private const double UnknownDistance = 0.5;

    private readonly Dictionary<string, ChannelWatch[]> _bySubject = new(StringComparer.Ordinal);
    private ChannelWatch[] _watched = [];

    /// <summary>The bench's channels and quantities; a pure function of the bench, so that a snapshot finds the same.</summary>
    public void Seat(ChannelWatch[] watched)
    {
        _watched = watched;
        _bySubject.Clear();
        foreach (IGrouping<string, ChannelWatch> group in watched.Where(w => !w.IsFrame).GroupBy(SubjectOf, StringComparer.Ordinal))
        {
            _bySubject[group.Key] = [.. group];
        }
    }

    /// <summary>The slug by which a signature means this channel or quantity.</summary>
    public static string SubjectOf(ChannelWatch watch) =>
        watch.Quantity is { } quantity ? Slugs.Of(quantity.Kind) : watch.Definition.Role == ChannelRole.Other ? watch.Definition.Id : Slugs.Of(watch.Definition.Role);

    /// <summary>The channel or quantity a finding is about; null for one about the bench or an instrument.</summary>
    public ChannelWatch? Of(FindingLine line) => Array.Find(_watched, w => w.Definition.Id == line.Channel);

    public void Follow(WatchContext context)
    {
        bool tapeRuns = context.Machine.State is MachineState.Running or MachineState.Locked && !context.Machine.IsSettling;
        foreach (ChannelWatch watch in _watched)
        {
            if (watch.IsFrame)
            {
                continue;
            }

            // Baselines are of running tape: at rest the flows are others, and so is the air.
            if (watch.Baseline is { } level && watch.IsFresh(context.Now) && (tapeRuns || !IsOfTheTape(watch)))
            {
                Tolerance tolerance = watch.ToleranceAt(level);
                double noise = (watch.BaselineDeviation ?? 0) / Math.Min(tolerance.Down, tolerance.Up);
                watch.Movement.Follow(context.Now, tolerance.Share(watch.LastValue - level), noise, TickSeconds);
            }
            else
            {
                watch.Movement.LoseSight(context.Now, HoldOver);
            }
        }
    }

    public Observation Read(string subject, WatchContext context) => subject switch
    {
        Subjects.OneHead => LowestHead(),
        Subjects.Readings => Said(context, l => l.Kind is FindingKinds.Stale or FindingKinds.SensorFault or FindingKinds.InstrumentSilent, Pace.Sudden),
        Subjects.Wear => Said(context, l => l.Kind == FindingKinds.Wear, Pace.Slow),
        _ => Farthest(subject, context),
    };

    /// <summary>Seconds from cut-in to cut-in of the compressor; what is usual where that is not told.</summary>
    public TimeSpan CompressorCycle() =>
        _bySubject.TryGetValue(Period, out ChannelWatch[]? told) && told[0].HasValue ? TimeSpan.FromSeconds(Math.Clamp(told[0].LastValue, 10, 1800)) : UsualCycle;

    /// <summary>The regulated air is so low that whatever floats on it or is held by it suffers.</summary>
    public bool AirIsLow() => Seen(Air).Any(a => a.Movement is { Direction: Direction.Down, Strength: < -1 });

    /// <summary>The head that wears; null while none is said to.</summary>
    public int? WornHead(WatchContext context) =>
        context.Desk.Open.Select(f => f.Line).FirstOrDefault(l => l.Kind == FindingKinds.Wear) is { } line ? Of(line)?.Definition.Head : null;

    /// <summary>The head whose RF is lowest against its baseline; null without any.</summary>
    public int? WorstHead()
    {
        ChannelWatch? worst = null;
        foreach (ChannelWatch head in Seen(AnyHead))
        {
            if (worst is null || head.Movement.Strength < worst.Movement.Strength)
            {
                worst = head;
            }
        }

        return worst?.Definition.Head;
    }

    private Observation Farthest(string subject, WatchContext context)
    {
        Observation most = Observation.Unseen;
        foreach (ChannelWatch watch in _bySubject.GetValueOrDefault(subject) ?? [])
        {
            Observation one = watch.Movement.IsSeen ? Moving(watch, context) : Violating(watch, context);
            if (one.IsSeen && (!most.IsSeen || Math.Abs(one.Value) > Math.Abs(most.Value)))
            {
                most = one;
            }
        }

        return most;
    }

    /// <summary>A drift that is said is a slow movement, before its means have left the middle of the tolerance.</summary>
    private static Observation Moving(ChannelWatch watch, WatchContext context)
    {
        (double value, double noise) = watch.Movement.Standing();
        FindingLine? drift = context.Desk.Open.Select(f => f.Line).FirstOrDefault(l => l.Kind == FindingKinds.Drift && l.Channel == watch.Definition.Id);
        return drift is null
            ? new Observation(true, value, noise, watch.Movement.Direction, watch.Movement.Pace, watch.Movement.Onset)
            : new Observation(true, value, noise, drift.Cause == "drifts-down" ? Direction.Down : Direction.Up, Pace.Slow, drift.Start);
    }

    /// <summary>Where there is no baseline to move from, a limit that is crossed tells the direction; how far it went is not known.</summary>
    private static Observation Violating(ChannelWatch watch, WatchContext context)
    {
        foreach (OpenFinding finding in context.Desk.Open)
        {
            if (finding.Line.Channel == watch.Definition.Id && finding.Line.Severity >= Severity.Advisory)
            {
                Direction? direction = finding.Line.Kind switch
                {
                    FindingKinds.BelowLimit or FindingKinds.AirBelowSetpoint or FindingKinds.VacuumLoss => Direction.Down,
                    FindingKinds.AboveLimit => Direction.Up,
                    _ => null,
                };
                if (direction is { } way)
                {
                    return new Observation(true, way == Direction.Down ? -1 : 1, UnknownDistance, way, Pace.Quick, finding.Line.Start);
                }
            }
        }

        return Observation.Unseen;
    }

    /// <summary>A finding says it all: there or not.</summary>
    private static Observation Said(WatchContext context, Func<FindingLine, bool> says, Pace pace)
    {
        FindingLine? line = context.Desk.Open.Select(f => f.Line).FirstOrDefault(says);
        return line is null ? new Observation(true, 0, 0, Direction.Still) : new Observation(true, -1, 0, Direction.Down, pace, line.Start);
    }

    /// <summary>The head that is lowest against the others; with two heads there is only their spread to tell it by.</summary>
    private Observation LowestHead()
    {
        ChannelWatch? lowest = Seen(Difference).MinBy(w => w.Movement.Standing().Value);
        ChannelWatch? told = lowest ?? Seen(Spread).FirstOrDefault();
        if (told is null)
        {
            return Observation.Unseen;
        }

        (double value, double noise) = told.Movement.Standing();
        bool down = told.Movement.Direction == (lowest is null ? Direction.Up : Direction.Down);
        return new Observation(true, lowest is null ? -value : value, noise, down ? Direction.Down : Direction.Still, told.Movement.Pace, told.Movement.Onset);
    }

    private IEnumerable<ChannelWatch> Seen(string subject) =>
        _bySubject.TryGetValue(subject, out ChannelWatch[]? watches) ? watches.Where(w => w.Movement.IsSeen) : [];

    /// <summary>It means something only while tape runs.</summary>
    public static bool IsOfTheTape(ChannelWatch watch) => watch.Definition.Role is not (ChannelRole.SupplyAir
        or ChannelRole.DewPoint or ChannelRole.AmbientTemperature or ChannelRole.AmbientHumidity or ChannelRole.Barometer
        or ChannelRole.CompressorRunning or ChannelRole.SensorRail);
}
