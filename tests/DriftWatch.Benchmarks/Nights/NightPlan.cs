using DriftWatch.Acquisition.PracticeRig;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>One stretch of the rig's running; a session of its own begins with the watch started anew.</summary>
/// <param name="Script">What happens in it.</param>
/// <param name="AwayBefore">Time that passed unwatched before it.</param>
internal sealed record NightSession(RigScript Script, TimeSpan AwayBefore);

/// <summary>
/// A night from its seed alone: machine, tapes, nuisances, and at most one cause with its onset, size and speed. Times
/// are seconds of engine time, so that findings can be held against them.
/// </summary>
internal sealed record NightPlan
{
    public required ulong Seed { get; init; }

    /// <summary>A cause's slug, or <see cref="NightCauses.Sound"/>.</summary>
    public required string Cause { get; init; }

    public NightPace Pace { get; init; }

    public required IReadOnlyList<NightSession> Sessions { get; init; }

    public double LengthSeconds => Sessions.Sum(s => s.Script.LengthSeconds);

    /// <summary>When someone stopped the tape.</summary>
    public IReadOnlyList<double> StopSeconds =>
    [
        .. Sessions.SelectMany((session, i) => session.Script.Steps.Where(step => step.Act == RigAct.Stop)
            .Select(step => step.AtSeconds + Sessions.Take(i).Sum(s => s.Script.LengthSeconds))),
    ];

    /// <summary>When the fault begins; null on a sound night.</summary>
    public double? OnsetSeconds { get; init; }

    /// <summary>When it is beyond tolerance and noise, so that the channels there are must show it; null where it never gets there.</summary>
    public double? VisibleSeconds { get; init; }

    /// <summary>When 40 % of the tolerance are used; only for a drift.</summary>
    public double? FortyPercentSeconds { get; init; }

    /// <summary>When it is mended or the night ends.</summary>
    public double? EndSeconds { get; init; }

    /// <summary>Greatest size as a multiple of the tolerance.</summary>
    public double SizeInTolerances { get; init; }

    /// <summary>From nothing to the greatest size; 0 where it comes at once.</summary>
    public double RampSeconds { get; init; }

    /// <summary>How long after it is visible it must be said: the limit's own delay, and for what is told once in a cycle of the compressor the cycle in hand.</summary>
    public double OwnDelaySeconds { get; init; }

    /// <summary>For a sensor's fault: what is broken, as in a script.</summary>
    public string? Detail { get; init; }

    /// <summary>A reading is stuck when it has not changed for so long: the bench's own rule for it.</summary>
    private const double StuckSeconds = 60;

    /// <summary>A sound night of so many hours.</summary>
    public static NightPlan OfSound(ulong seed, double hours)
    {
        RigRandom random = RigRandom.Stream(seed, "night");
        (List<RigStep> steps, _) = NightTapes.Fill(random, hours * 3600);
        return new NightPlan { Seed = seed, Cause = NightCauses.Sound, Sessions = [new(NightTapes.Script(steps, [], hours * 3600), default)] };
    }

    /// <summary>A night with a cause; a smoke is shorter than life.</summary>
    public static NightPlan Of(NightCause cause, ulong seed, bool smoke)
    {
        RigRandom random = RigRandom.Stream(seed, "night");
        RigParameters machine = RigParameters.From(seed);
        if (cause.SlowestPace == NightPace.Weeks)
        {
            return OverWeeks(cause, seed, random, machine, smoke);
        }

        NightPace pace = cause.CanDrift && random.Unit() < 0.5 ? NightPace.Drift : NightPace.AsItBreaks;
        double tolerance = cause.Tolerance(machine);
        double size = random.Between(cause.Shares.From, cause.Shares.To);

        // Two hours at the longest for the tolerance; the tape is long enough (half speed) to see it through.
        double ramp = pace == NightPace.Drift ? random.Between(6000, 7200) * size : random.Between(cause.Ramp.From, cause.Ramp.To);
        double tape = pace == NightPace.Drift ? 11_400 : 5700;
        double before = pace == NightPace.Drift ? 0 : random.Between(1200, 2400);
        if (smoke)
        {
            (tape, before, ramp) = (700, 0, Math.Min(ramp, 120));
        }

        double length = before + tape + 1000;
        (List<RigStep> steps, List<NightTape> tapes) = before > 0
            ? NightTapes.Fill(random, length, before - 300, tape)
            : NightTapes.Fill(random, length, tape);
        NightTape on = tapes[^1];
        double settled = on.LocksSeconds + (smoke ? 60 : 420);

        // Late enough to be settled, early enough to get beyond the tolerance and be there for a while on this tape.
        double toVisible = (cause.IsAllOrNothing ? 0 : ramp / size) + (cause.NeedsCycle ? Cycle(machine) : 0);
        double room = on.EndsSeconds - settled - toVisible - (smoke ? 60 : 900);
        double onset = settled + (random.Unit() * Math.Max(0, Math.Min(room, pace == NightPace.Drift ? 900 : room)));
        double lasts = cause.Lasts is { } span ? random.Between(span.From, span.To) : on.EndsSeconds - onset;
        double end = Math.Min(onset + lasts, on.EndsSeconds);
        RigFault fault = Fault(cause, random, onset, end, ramp, size * tolerance);
        if (cause.Stands is { } stands)
        {
            double way = tolerance - (Math.Sign(fault.Magnitude) * stands(machine, NightTapes.TapeAt(seed, steps, onset)));
            toVisible = ramp * way / Math.Abs(fault.Magnitude);
        }

        double visible = onset + toVisible;
        return new NightPlan
        {
            Seed = seed,
            Cause = cause.Slug,
            Pace = pace,
            Sessions = [new(NightTapes.Script(steps, [fault], length), default)],
            OnsetSeconds = onset,
            VisibleSeconds = visible < end ? visible : null,
            FortyPercentSeconds = pace == NightPace.Drift ? onset + (0.4 * ramp / size) : null,
            EndSeconds = end,
            SizeInTolerances = size,
            RampSeconds = fault.RampSeconds,
            OwnDelaySeconds = (fault.Kind == RigFaultKind.SensorStuck ? StuckSeconds : cause.OwnDelaySeconds) + (cause.NeedsCycle ? Cycle(machine) : 0),
            Detail = fault.Input is { } input ? $"{fault.Kind} {RigInputs.NameOf(input)}" : fault.Head is { } head ? $"head {head}" : null,
        };
    }

    /// <summary>The same machine once a week, a little more worn each time; from the third session on.</summary>
    private static NightPlan OverWeeks(NightCause cause, ulong seed, RigRandom random, RigParameters machine, bool smoke)
    {
        int weeks = smoke ? 3 : 8;
        double length = smoke ? 700 : 2400;
        double size = random.Between(cause.Shares.From, cause.Shares.To);
        double tolerance = cause.Tolerance(machine);
        int head = 1 + (int)(random.Unit() * 4);
        var sessions = new List<NightSession>();
        double? onset = null;
        double? visible = null;
        for (int week = 0; week < weeks; week++)
        {
            (List<RigStep> steps, List<NightTape> tapes) = NightTapes.Fill(random, length, length - 200);
            double share = size * Math.Max(0, week - 1) / (weeks - 2);
            RigFault[] worn = share > 0
                ? [new RigFault { Kind = cause.Fault, StartSeconds = 0, Magnitude = share * tolerance, Head = head }]
                : [];
            double begins = week * length;
            onset ??= share > 0 ? begins + tapes[0].LocksSeconds : null;
            visible ??= share >= 1 ? begins + tapes[0].LocksSeconds + 40 : null; // a baseline's 30 s and some
            sessions.Add(new NightSession(NightTapes.Script(steps, worn, length), week == 0 ? default : TimeSpan.FromDays(7)));
        }

        return new NightPlan
        {
            Seed = seed, Cause = cause.Slug, Pace = NightPace.Weeks, Sessions = sessions, OnsetSeconds = onset, VisibleSeconds = visible,
            EndSeconds = weeks * length, SizeInTolerances = size, Detail = $"head {head}",
        };
    }

    private static RigFault Fault(NightCause cause, RigRandom random, double onset, double end, double ramp, double magnitude)
    {
        var fault = new RigFault
        {
            Kind = cause.Fault,
            StartSeconds = onset,
            RampSeconds = cause.IsAllOrNothing ? 0 : ramp,
            ForSeconds = end - onset,
            RecoverySeconds = cause.IsAllOrNothing ? 0 : 1,
            Magnitude = cause.IsAllOrNothing ? 1 : magnitude,
        };
        if (cause.Fault == RigFaultKind.HeadClog)
        {
            return fault with { Head = 1 + (int)(random.Unit() * 4) };
        }

        if (cause.Fault is RigFaultKind.GuideHeightShift or RigFaultKind.GuidePenetrationShift or RigFaultKind.TrackingShift)
        {
            return fault with { Magnitude = random.Unit() < 0.5 ? -magnitude : magnitude };
        }

        if (cause.Slug == NightCauses.SensorFault)
        {
            RigFaultKind kind = Pick(random, RigFaultKind.SensorDead, RigFaultKind.SensorOpenLoop, RigFaultKind.SensorOverRange, RigFaultKind.SensorStuck);
            return fault with
            {
                Kind = kind,
                Input = Pick(random, RigInput.SupplyAir, RigInput.RegulatedAirVolts, RigInput.GuideVacuum, RigInput.RfHead1, RigInput.RfHead3, RigInput.ControlTrack),
            };
        }

        return fault;
    }

    private static T Pick<T>(RigRandom random, params T[] of) => of[(int)(random.Unit() * of.Length)];

    /// <summary>Seconds of a sound compressor's cycle: V·ΔP/(14.696·q) for the fall and for the rise (derived).</summary>
    private static double Cycle(RigParameters p)
    {
        AirPlantParameters a = p.Air;
        double litres = a.ReceiverLitres * (a.CutOutPsi - a.CutInPsi) / AirPlant.AtmospherePsi;
        double load = a.BearingLitresPerMinute + a.VenturiLitresPerMinute + a.LeakLitresPerMinute;
        double delivery = a.CompressorLitresPerMinute * (1 - (a.CompressorFallPerPsi * 0.5 * (a.CutInPsi + a.CutOutPsi)));
        return 60 * ((litres / load) + (litres / (delivery - load)));
    }
}
