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
    private static readonly string Supply = Slugs.Of(ChannelRole.SupplyAir);

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

    public Observation Read(string subject, WatchContext context)
    {
        switch (subject)
        {
            case Subjects.OneHead:
                return Heads(all: false);
            case Subjects.AllHeads:
                return Heads(all: true);
            case Subjects.Readings:
                return Said(context, f => f.Kind is FindingKinds.Stale or FindingKinds.SensorFault or FindingKinds.InstrumentSilent);
            case Subjects.AirSag:
                return Said(context, f => f.Kind == FindingKinds.PressureSag);
        }

        if (!_bySubject.TryGetValue(subject, out ChannelWatch[]? watches))
        {
            return Observation.Unseen;
        }

        // The supply's sawtooth leaves its baseline all the time; only what is said of it counts.
        if (subject == Supply)
        {
            return Said(context, f => Array.Exists(watches, w => w.Definition.Id == f.Channel) && f.Severity >= Severity.Advisory && f.Kind is FindingKinds.BelowLimit or FindingKinds.Drift);
        }

        Observation most = Observation.Unseen;
        double strength = -1;
        foreach (ChannelWatch watch in watches)
        {
            Observation one = Drifting(watch, context) ?? (watch.Movement.IsSeen ? Moving(watch) : Violating(watch, context));
            if (one.IsSeen && Math.Abs(watch.Movement.Strength) + (one.Direction == Direction.Still ? 0 : 1000) > strength)
            {
                strength = Math.Abs(watch.Movement.Strength) + (one.Direction == Direction.Still ? 0 : 1000);
                most = one;
            }
        }

        return most;
    }

    /// <summary>The regulated air is so low that whatever floats on it or is held by it suffers.</summary>
    public bool AirIsLow() => Seen(Air).Any(a => a.Movement is { Direction: Direction.Down, Strength: < -1 });

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

    private static Observation Moving(ChannelWatch watch) =>
        new(watch.Movement.IsSeen, watch.Movement.Direction, watch.Movement.Pace, watch.Movement.Onset);

    /// <summary>A drift that is said counts as a slow movement before the means have left their middle.</summary>
    private static Observation? Drifting(ChannelWatch watch, WatchContext context)
    {
        foreach (OpenFinding finding in context.Desk.Open)
        {
            if (finding.Line.Kind == FindingKinds.Drift && finding.Line.Channel == watch.Definition.Id)
            {
                return new Observation(true, finding.Line.Cause == "drifts-down" ? Direction.Down : Direction.Up, Pace.Slow, finding.Line.Start);
            }
        }

        return null;
    }

    /// <summary>Where there is no baseline to move from, a limit that is crossed tells the direction.</summary>
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
                    return new Observation(true, way, Pace.Quick, finding.Line.Start);
                }
            }
        }

        return Observation.Unseen;
    }

    private static Observation Said(WatchContext context, Func<FindingLine, bool> says)
    {
        foreach (OpenFinding finding in context.Desk.Open)
        {
            if (says(finding.Line))
            {
                return new Observation(true, Direction.Down, Pace.Sudden, finding.Line.Start);
            }
        }

        return new Observation(true, Direction.Still);
    }

    private Observation Heads(bool all)
    {
        int seen = 0;
        int down = 0;
        Observation first = Observation.Unseen;
        foreach (ChannelWatch head in Seen(AnyHead))
        {
            seen++;
            if (head.Movement.Direction != Direction.Down)
            {
                continue;
            }

            down++;
            if (!first.IsSeen || head.Movement.Onset < first.Onset)
            {
                first = Moving(head);
            }
        }

        if (seen < 2)
        {
            return Observation.Unseen;
        }

        // Some of several says neither: it is for spread and common level to tell.
        return down == 0 ? new Observation(true, Direction.Still)
            : down == (all ? seen : 1) ? first
            : down == (all ? 1 : seen) ? new Observation(true, Direction.Still)
            : Observation.Unseen;
    }

    private IEnumerable<ChannelWatch> Seen(string subject) =>
        _bySubject.TryGetValue(subject, out ChannelWatch[]? watches) ? watches.Where(w => w.Movement.IsSeen) : [];

    /// <summary>It means something only while tape runs.</summary>
    public static bool IsOfTheTape(ChannelWatch watch) => watch.Definition.Role is not (ChannelRole.SupplyAir
        or ChannelRole.DewPoint or ChannelRole.AmbientTemperature or ChannelRole.AmbientHumidity or ChannelRole.Barometer
        or ChannelRole.CompressorRunning or ChannelRole.SensorRail);
}
