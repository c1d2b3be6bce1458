using DriftWatch.Analysis;
using DriftWatch.Analysis.Forecast;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Analysis.Trend;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// Says that the tape sheds: that what the heads have in common falls over minutes, how fast, how long there will be picture, and to stop and
/// clean while there is. Looked at once a minute over the last ten and the last five, in means of five seconds, by <see cref="Shed"/>; said when
/// <list type="number">
/// <item>the fall is faster than the advisory rate, and surely faster than is normal,</item>
/// <item>it goes on from quarter to quarter of what was seen, so that a step (a cut, a hand at the tracking) is none,</item>
/// <item>the level is below this tape's line-up, where there is one.</item>
/// </list>
/// </summary>
internal sealed class ShedWatch : Derivation
{
    /// <summary>A fall of this many dB in 10 min is said. Source: common practice, no source (threshold table, 'RF common').</summary>
    public const double AdvisoryDbPerTenMinutes = 1;

    /// <summary>Of the interval that must leave the normal rate out. Source: derived, two times 720 looks in a night of 12 h are 144,000 in a hundred, and most end at the other two questions.</summary>
    public const double Confidence = 0.9999;

    private const int Bins = 120;
    private const int BinSeconds = 5;
    private const int FewestBins = 60; // five minutes, and as many as Drift needs with something to spare

    // Ticks in a bin; one that was told for less than half of it is a hole.
    private const int FewestTicks = BinSeconds * 10 / 2;

    private const int LookEveryBins = 60 / BinSeconds;

    // Each quarter brings at least this share of the whole fall. Source: derived: an even fall brings a third from one to the next, a step nothing at least once.
    private const double LeastOfAQuarter = 0.12;

    // Nearer to the line-up than this it has lost nothing yet. Source: common practice, no source.
    private const double LeastBelowLineUpDb = 0.5;

    private const string Source = "common practice, no source";

    private static readonly TimeSpan StateLeftAfter = TimeSpan.FromSeconds(30);
    private static readonly ShedLimits Limits = new();

    private readonly double[] _means = new double[Bins];
    private readonly long[] _bins = new long[Bins];
    private readonly double[] _times = new double[Bins];
    private readonly double[] _levels = new double[Bins];
    private long _bin = long.MinValue;
    private double _sum;
    private int _ticks;
    private EngineTime _refusedSince = EngineTime.MaxValue;
    private OpenFinding? _finding;
    private double _saidRate;
    private double _saidLeft;

    public ShedWatch() => Clear();

    public override void OnTick(WatchContext context, QuantityBoard board)
    {
        if (board.Of(QuantityKind.RfCommon) is not { } common)
        {
            return;
        }

        bool accepts = context.Machine.State is MachineState.Running or MachineState.Locked && !context.Machine.IsSettling;
        if (!accepts)
        {
            Refuse(context);
            return;
        }

        _refusedSince = EngineTime.MaxValue;
        long bin = context.Now.Nanoseconds / (BinSeconds * 1_000_000_000L);
        if (bin != _bin)
        {
            EndIfCleaned(context, common);
            bool looks = Close() && _bin % LookEveryBins == 0;
            _bin = bin;
            if (looks)
            {
                Look(context, common);
            }
        }

        if (common.HasValue && common.LastValidAt == context.Now)
        {
            _sum += common.LastValue;
            _ticks++;
        }
    }

    /// <summary>Cleaned heads are back at once, long before the rate over minutes says so; what was before the cleaning is then no part of a fall.</summary>
    private void EndIfCleaned(WatchContext context, ChannelWatch common)
    {
        if (_finding is { } finding && common.Baseline is { } baseline && common.Means.MeanAt(context.Now) > baseline - LeastBelowLineUpDb)
        {
            context.Desk.End(finding, context.Now, "recovered", "RF of all heads is back at its level of line-up.");
            _finding = null;
            Clear();
        }
    }

    public override void BeginWatching() => Clear();

    public override void OutOfService(WatchContext context)
    {
        Clear();
        context.Desk.TakeOutOfService(ref _finding, context.Now);
    }

    public override void Sync(StateArchive archive, FindingDesk desk)
    {
        for (int i = 0; i < Bins; i++)
        {
            archive.Sync(ref _means[i]);
            archive.Sync(ref _bins[i]);
        }

        archive.Sync(ref _bin);
        archive.Sync(ref _sum);
        archive.Sync(ref _ticks);
        archive.Sync(ref _refusedSince);
        archive.Sync(ref _saidRate);
        archive.Sync(ref _saidLeft);
        desk.Sync(archive, ref _finding);
    }

    /// <summary>Tape stands or is not settled: a short interruption is a hole, a longer one may have been a cleaning.</summary>
    private void Refuse(WatchContext context)
    {
        _sum = 0;
        _ticks = 0;
        _refusedSince = _refusedSince == EngineTime.MaxValue ? context.Now : _refusedSince;
        if (context.Now - _refusedSince >= StateLeftAfter)
        {
            Clear();
            if (_finding is { } finding)
            {
                context.Desk.End(finding, context.Now, "state-left", "Tape no longer runs; whether it sheds can't be told.");
                _finding = null;
            }
        }
    }

    private void Clear()
    {
        Array.Fill(_bins, long.MinValue);
        _bin = long.MinValue;
        _sum = 0;
        _ticks = 0;
    }

    /// <summary>Whether a bin was kept.</summary>
    private bool Close()
    {
        bool kept = _bin != long.MinValue && _ticks >= FewestTicks;
        if (kept)
        {
            int slot = (int)((ulong)_bin % Bins);
            _bins[slot] = _bin;
            _means[slot] = _sum / _ticks;
        }

        _sum = 0;
        _ticks = 0;
        return kept;
    }

    private void Look(WatchContext context, ChannelWatch common)
    {
        int n = 0;
        long newest = context.Now.Nanoseconds / (BinSeconds * 1_000_000_000L);
        for (long bin = newest - Bins; bin < newest; bin++)
        {
            int slot = (int)((ulong)bin % Bins);
            if (bin >= 0 && _bins[slot] == bin)
            {
                _times[n] = (bin + 0.5) * BinSeconds;
                _levels[n++] = _means[slot];
            }
        }

        // The last five minutes tell a fast fall before it fills ten; ten tell a slower one.
        if (!LookOver(context, common, n, 0))
        {
            LookOver(context, common, n, n - FewestBins);
        }
    }

    /// <summary>Whether something is said, or a finding was followed.</summary>
    private bool LookOver(WatchContext context, ChannelWatch common, int n, int from)
    {
        if (from < 0 || n - from < FewestBins)
        {
            return false;
        }

        ReadOnlySpan<double> times = _times.AsSpan(from, n - from);
        ReadOnlySpan<double> levels = _levels.AsSpan(from, n - from);
        bool isCheaplyOut = _finding is null && !GoesOn(levels); // on a sound night nearly every look ends here
        if (isCheaplyOut || Drift.Estimate(times, levels, Confidence) is not { IsKnown: true, Value: var drift })
        {
            return false;
        }

        double now = context.Now.Seconds;
        double lineUp = common.Baseline ?? levels[0];
        ShedForecast shed = Shed.Judge(drift, now, lineUp, Limits, 0.95);
        if (_finding is not null)
        {
            Follow(context, common, shed, times[0]);
            return true;
        }

        bool says = shed.DbPerTenMinutes <= -AdvisoryDbPerTenMinutes && shed.Upper <= -Limits.NormalDbPerTenMinutes
            && (common.Baseline is null || shed.BelowLineUpDb >= LeastBelowLineUpDb);
        if (says)
        {
            Speak(context, common, shed, EngineTime.FromSeconds(times[0]));
        }

        return says;
    }

    private static bool GoesOn(ReadOnlySpan<double> levels)
    {
        Span<double> quarters = stackalloc double[4];
        for (int q = 0; q < 4; q++)
        {
            ReadOnlySpan<double> part = levels[(q * levels.Length / 4)..((q + 1) * levels.Length / 4)];
            foreach (double level in part)
            {
                quarters[q] += level / part.Length;
            }
        }

        double least = LeastOfAQuarter * (quarters[0] - quarters[3]);
        return least > 0 && quarters[0] - quarters[1] >= least && quarters[1] - quarters[2] >= least && quarters[2] - quarters[3] >= least;
    }

    private void Follow(WatchContext context, ChannelWatch common, ShedForecast shed, double firstTime)
    {
        bool recovered = common.Baseline is not null && shed.BelowLineUpDb < LeastBelowLineUpDb;
        if (recovered || shed.DbPerTenMinutes > -Limits.NormalDbPerTenMinutes)
        {
            context.Desk.End(_finding!, context.Now, "recovered", "RF of all heads falls no longer.");
            _finding = null;
            return;
        }

        bool worse = SeverityOf(shed.Advice) > _finding!.Line.Severity;
        bool faster = shed.DbPerTenMinutes < 1.5 * _saidRate;
        bool halved = Left(common, shed) is { } left && left.Best < 0.5 * _saidLeft;
        if (worse || ((faster || halved) && context.Desk.MayUpdate(_finding)))
        {
            Speak(context, common, shed, EngineTime.FromSeconds(firstTime));
        }
    }

    private static LimitForecast? Left(ChannelWatch common, ShedForecast shed) =>
        common.Baseline is not null && shed.LeftSeconds.Outlook != LimitOutlook.NotWithinHorizon ? shed.LeftSeconds : null;

    /// <summary>Without a line-up no time is told, and only the rate can be an alarm.</summary>
    private static ShedAdvice AdviceOf(ChannelWatch common, ShedForecast shed) => common.Baseline is not null ? shed.Advice
        : shed.DbPerTenMinutes <= -Limits.AlarmDbPerTenMinutes ? ShedAdvice.StopAndClean : ShedAdvice.Watch;

    private static Severity SeverityOf(ShedAdvice advice) =>
        advice is ShedAdvice.StopAndClean or ShedAdvice.PictureLost ? Severity.Alarm : Severity.Advisory;

    private void Speak(WatchContext context, ChannelWatch common, ShedForecast shed, EngineTime seenFrom)
    {
        LimitForecast? left = Left(common, shed);
        ShedAdvice advice = AdviceOf(common, shed);
        List<FindingDetail> details =
        [
            new("dbPerTenMinutes", shed.DbPerTenMinutes),
            new("rateLow", shed.Lower),
            new("rateHigh", shed.Upper),
            new("advice", null, advice switch
            {
                ShedAdvice.StopAndClean => "stop-and-clean",
                ShedAdvice.PictureLost => "picture-lost",
                _ => "watch",
            }),
        ];
        if (common.Baseline is not null)
        {
            details.Add(new("belowLineUpDb", shed.BelowLineUpDb));
        }

        if (left is { } known)
        {
            details.Add(new("secondsLeft", known.Best));
            details.Add(new("secondsLeftEarliest", known.Earliest));
        }

        _saidRate = shed.DbPerTenMinutes;
        _saidLeft = left?.Best ?? double.MaxValue;
        var facts = new FindingFacts
        {
            Kind = FindingKinds.Shed,
            Channel = common.Definition.Id,
            Severity = SeverityOf(advice),
            Start = _finding?.Line.Start ?? seenFrom,
            Value = shed.DbPerTenMinutes,
            Limit = SeverityOf(advice) == Severity.Alarm ? -Limits.AlarmDbPerTenMinutes : -AdvisoryDbPerTenMinutes,
            Unit = "dB",
            LimitSource = Source,
            Cause = "shed",
            Text = Sentence(shed, left, advice),
            Details = details,
        };
        if (_finding is null)
        {
            _finding = context.Desk.Raise(facts);
        }
        else
        {
            context.Desk.Update(_finding, facts);
        }
    }

    private static string Sentence(ShedForecast shed, LimitForecast? left, ShedAdvice advice)
    {
        string rate = $"RF of all heads falls by {Say.Number(-shed.DbPerTenMinutes)} dB in 10 min ({Say.Number(-shed.Upper)} to {Say.Number(-shed.Lower)}), as when the tape sheds; tracking that drifts looks alike.";
        string time = left is { Best: > 0 } known
            ? $" If it goes on so, half the amplitude is lost in {Say.Length(known.Best)}, in {Say.Length(known.Earliest)} at the earliest."
            : "";
        return advice switch
        {
            ShedAdvice.PictureLost => $"{rate} More than half the amplitude is lost: stop, clean, and take this stretch again.",
            ShedAdvice.StopAndClean => $"{rate}{time} Stop and clean while there is still picture.",
            _ => $"{rate}{time} Plan where to stop and clean.",
        };
    }
}
