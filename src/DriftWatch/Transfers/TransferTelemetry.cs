using DriftWatch.Calibrating;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports;
using DriftWatch.Running;
using DriftWatch.Storage.Queries;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Transfers;

/// <summary>What a bench's store tells of the instants that a transfer is about; a service may go on writing to it.</summary>
/// <param name="reader">Of the store.</param>
/// <param name="bench">In whose units values are told.</param>
internal sealed class TransferTelemetry(BenchReader reader, BenchDefinition bench)
{
    /// <summary>As long as a baseline: what stands now.</summary>
    private static readonly TimeSpan Present = TimeSpan.FromSeconds(30);

    /// <summary>How far back the wheel's last start is looked for. Source: our own choice, a shift.</summary>
    private static readonly TimeSpan WheelLookBack = TimeSpan.FromHours(8);

    /// <summary>Below this a wheel stands. Source: derived, a hundredth of its rate.</summary>
    internal const double WheelStandsRevolutionsPerSecond = 2.5;

    private readonly AnchorTable _anchors = reader.ReadAnchors();
    private readonly CalibrationTable _calibrations = CalibrationTable.Of(reader);

    public BenchDefinition Bench => bench;

    /// <summary>Nothing was ever recorded here.</summary>
    public bool IsEmpty => _anchors.Anchors.Count == 0;

    /// <summary>Every finding line of a span and of the day before it, and what lasted then however long before it was raised, oldest first, read as they are asked for, however many there are.</summary>
    public IEnumerable<FindingLine> Findings(long fromUtc, long toUtc) =>
        reader.EachFindingBetween(At(fromUtc), At(toUtc), TimeSpan.FromDays(1)).Select(f => f.Line);

    /// <summary>Places on the tape of a run.</summary>
    public TapePlaces Places(Said<RunBegan> began, long toUtc)
    {
        ChannelDefinition? counter = bench.Channels.FirstOrDefault(c => c.Id == began.Body.Channel);
        long before = Nanoseconds(TimeSpan.FromSeconds(TapePlaces.LongestSilence)); // the run seldom begins at the instant of a reading
        return new TapePlaces(began, counter is null ? [] : Values(counter, began.Entry.AboutUtc - before, toUtc + before, "s"));
    }

    /// <summary>The wheel's rate over the five seconds before an instant, revolutions a second; null where it was not read.</summary>
    public double? WheelRateAt(long utc) =>
        Of(ChannelRole.WheelSpeed) is { } wheel ? Mean(Values(wheel, utc - Nanoseconds(TimeSpan.FromSeconds(5)), utc, "rev/s")) : null;

    /// <summary>What a channel read last at an instant, in the unit asked for; null where it was silent or has no such unit.</summary>
    public double? ValueAt(string channel, long utc, string? unit)
    {
        if (bench.Channels.FirstOrDefault(c => c.Id == channel && c.Kind == ChannelKind.Series) is not { } read
            || (unit is not null && !(Measurement.Units.Unit.TryParse(unit, out Measurement.Units.Unit asked) && Measurement.Units.Unit.Parse(read.Unit).ConvertsTo(asked))))
        {
            return null;
        }

        // An instant is told in whole milliseconds, and what was read within it belongs to it.
        List<(long Utc, double Value)> values = Values(read, utc - Nanoseconds(read.StaleAdvisory), utc + EngineTime.NanosecondsPerMillisecond, unit ?? read.Unit);
        return values.Count == 0 ? null : values[^1].Value;
    }

    /// <summary>Share of a span of which nothing is stored, 0 to 100.</summary>
    public double UnwatchedPercent(long fromUtc, long toUtc)
    {
        double covered = AlarmBook.WatchedIn(reader).Sum(w => (double)Math.Max(0, Math.Min(w.ToUtc, toUtc) - Math.Max(w.FromUtc, fromUtc)));
        return toUtc <= fromUtc ? 0 : Math.Clamp(100 * (1 - (covered / (toUtc - fromUtc))), 0, 100);
    }

    /// <summary>The stretches of a span of which nothing is stored, oldest first.</summary>
    public IReadOnlyList<UtcStretch> Gaps(long fromUtc, long toUtc) => [.. new UtcStretch(fromUtc, toUtc).Without(AlarmBook.WatchedIn(reader))];

    /// <summary>Whether a person took a baseline within a span.</summary>
    public bool HasBaseline(long fromUtc, long toUtc) =>
        reader.Baselines().Any(b => b.Standing == BaselineStanding.Confirmed && b.UtcNanoseconds >= fromUtc && b.UtcNanoseconds <= toUtc);

    /// <summary>What can prove the items of the check list at an instant.</summary>
    public ProofReadings Readings(long utc, TransferBook book, CheckList checks)
    {
        Upkeep upkeep = UpkeepAt(utc, book, checks);
        ChannelDefinition? air = Of(ChannelRole.RegulatedAir);
        ChannelDefinition? dew = Of(ChannelRole.DewPoint);
        DateOnly today = DateOnly.FromDateTime(UtcText.ToDateTimeOffset(utc).UtcDateTime);
        CalibrationRow[] dated = [.. CalibrationHistory.InForceAt(CalibrationHistory.Of(reader), bench, utc).Where(c => c.Calibration.Due is not null)];
        return new ProofReadings
        {
            AtUtc = utc,
            Air = air is null ? null : Mean(Recent(air, utc, air.Unit)),
            AirSetpoint = air?.Setpoint,
            AirUnit = air?.Unit ?? "",
            AirUpShare = bench.Judgement.AirUpFraction,
            WheelBegan = WheelBegan(utc, air),
            DewPointCelsius = dew is null ? null : Mean(Recent(dew, utc, "degC")),
            CalibrationsDated = dated.Length,
            CalibrationsOverdue = [.. dated.Where(c => c.Calibration.Due < today).Select(c => c.Channel.Id)],
            LeakDownUtc = upkeep.LeakDownUtc,
            HeadHours = upkeep.HeadHours,
            RanHours = upkeep.RanHours,
        };
    }

    /// <summary>What was last written down of what is done by the calendar or by the hours.</summary>
    public Upkeep UpkeepAt(long utc, TransferBook book, CheckList checks)
    {
        (long Utc, double Hours)? read = LastValue(book, checks, ProofKind.HeadHours, utc);
        return new Upkeep(read, read is { } known ? RanHours(known.Utc, utc) : 0, LastValue(book, checks, ProofKind.LeakDown, utc)?.Utc);
    }

    /// <summary>Hours that tape was seen to run within a span, by the states that judging told.</summary>
    private double RanHours(long fromUtc, long toUtc)
    {
        double total = 0;
        (long Utc, bool Runs) before = (fromUtc, false);
        foreach (FindingLine line in Findings(fromUtc, toUtc).Where(l => l.Kind == FindingKinds.State && l.Phase == FindingPhase.Raised))
        {
            Count(Math.Clamp(line.StartUtc, fromUtc, toUtc));
            before = (Math.Clamp(line.StartUtc, fromUtc, toUtc), line.State >= MachineState.Running);
        }

        Count(toUtc);
        return total / 3.6e12;

        void Count(long utc) => total += before.Runs ? utc - before.Utc : 0;
    }

    private (long Utc, double AirShare)? WheelBegan(long utc, ChannelDefinition? air)
    {
        if (Of(ChannelRole.WheelSpeed) is not { } wheel || air is not { Setpoint: { } setpoint })
        {
            return null;
        }

        List<(long Utc, double Value)> speeds = Values(wheel, utc - Nanoseconds(WheelLookBack), utc, "rev/s");
        int began = speeds.FindLastIndex(s => s.Value < WheelStandsRevolutionsPerSecond) + 1;
        return began > 0 && began < speeds.Count
            && Values(air, speeds[began - 1].Utc - Nanoseconds(TimeSpan.FromSeconds(5)), speeds[began].Utc + 1, air.Unit) is [.., var (_, pressure)]
            ? (speeds[began].Utc, pressure / setpoint)
            : null;
    }

    /// <summary>The number that was last written down at an item of this proof before an instant.</summary>
    private static (long Utc, double Value)? LastValue(TransferBook book, CheckList checks, ProofKind proof, long utc)
    {
        HashSet<string> keys = [.. checks.Items.Where(i => i.Proof == proof).Select(i => i.Key)];
        return book.Transfers.SelectMany(t => t.Passes).SelectMany(p => p.Checks)
            .Where(c => keys.Contains(c.Body.Check) && c.Body.Value is not null && c.Entry.AboutUtc < utc)
            .OrderBy(c => c.Entry.AboutUtc).Select(c => ((long, double)?)(c.Entry.AboutUtc, c.Body.Value!.Value)).LastOrDefault();
    }

    private List<(long Utc, double Value)> Recent(ChannelDefinition channel, long utc, string unit) => Values(channel, utc - Nanoseconds(Present), utc, unit);

    private List<(long Utc, double Value)> Values(ChannelDefinition channel, long fromUtc, long toUtc, string unit)
    {
        if (IsEmpty)
        {
            return [];
        }

        var from = Measurement.Units.Unit.Parse(channel.Unit);
        var to = Measurement.Units.Unit.Parse(unit);
        return
        [
            .. reader.ReadSeries(channel.Key, At(fromUtc), At(toUtc)).Readings.Where(r => !r.Reading.IsFault)
                .Select(r => (Utc: _anchors.ToUtcNanoseconds(r.At), r.Version, r.Reading.Raw))
                .Select(r => (r.Utc, from.Convert(_calibrations.Of(channel.Key, r.Version, r.Utc).Convert(r.Raw), to))),
        ];
    }

    private ChannelDefinition? Of(ChannelRole role) => bench.Channels.FirstOrDefault(c => c.Role == role && c.Kind == ChannelKind.Series);

    private EngineTime At(long utc) => IsEmpty ? default : _anchors.FromUtcNanoseconds(utc);

    private static double? Mean(List<(long Utc, double Value)> values) => values.Count == 0 ? null : values.Average(v => v.Value);

    private static long Nanoseconds(TimeSpan span) => span.Ticks * TimeSpan.NanosecondsPerTick;
}

/// <summary>What was last written down of what is done by the calendar or by the hours.</summary>
/// <param name="HeadHours">The hour meter, and when it was read off; null for never.</param>
/// <param name="RanHours">Hours that tape was seen to run since then.</param>
/// <param name="LeakDownUtc">When the result of a leak-down test was written down; null for never.</param>
internal sealed record Upkeep((long Utc, double Hours)? HeadHours, double RanHours, long? LeakDownUtc);
