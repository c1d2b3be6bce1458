using DriftWatch.Analysis.Sags;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Baselines;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;
using DriftWatch.Watch.States;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// Finds dips of regulated air below its own recent level: not 'too low' (that is the limit's business) but 'something
/// drew air or cut it for a moment', which a regulator that ages, a filter that clogs or a compressor that starts shows
/// long before the limits speak. The level is the median of the means of the last 30 s, so a dip can't drag it along;
/// it is frozen while the dip lasts. A dip begins when the pressure is under it by a threshold, ends when half of the
/// threshold is left, and is measured on the way: depth, duration, area, and the time constant of the way back.
/// A level that has not come back after a minute is no dip but a new level, and is said to be so. With the wheel at a stand a dip ends as deep as it was.
/// </summary>
internal sealed class PressureSag
{
    /// <summary>Least dip, as a share of the setpoint. Source: common practice, no source (half of the tolerance of ±1 psi at 50 psi).</summary>
    public const double LeastShare = 0.01;

    /// <summary>
    /// From this share of the setpoint on a dip is advisory; a lesser one stays inside what is normal and is for the
    /// record. Source: common practice, no source (the tolerance of ±1 psi at 50 psi).
    /// </summary>
    public const double AdvisoryShare = 0.02;

    /// <summary>Least dip in standard deviations of the reading's own noise. Source: derived, under one false dip in 12 h at 10 readings a second of normal noise.</summary>
    public const double LeastSigmas = 5.5;

    /// <summary>A dip that lasts longer is a new level. Source: common practice, no source.</summary>
    public static readonly TimeSpan LongestDip = TimeSpan.FromSeconds(60);

    // Deeper than this share of the deepest, the way back has not begun.
    private const double WayBackBelow = 0.85;

    // E|x₂−x₁| of independent normal readings is 2σ/√π.
    private const double SigmaPerMeanStep = 0.886226925452758;
    private const double NoiseShare = 1.0 / 64;
    private const int NoiseNeeds = 32;

    private readonly RecoveryTrace _trace = new();
    private double? _reference;
    private long _referenceSecond = long.MinValue;
    private EngineTime _levelFrom = EngineTime.MinValue;
    private double _previous;
    private bool _hasPrevious;
    private double _meanStep;
    private double _meanSpread;
    private int _steps;
    private bool _inDip;
    private double _level;
    private double _threshold;
    private EngineTime _start;
    private EngineTime _lastTime;
    private double _lastDeficit;
    private double _depth;
    private double _saidDepth;
    private double _area;
    private bool _hasGap;
    private OpenFinding? _finding;

    /// <summary>Nobody watched: the level of before is not that of now.</summary>
    public void BeginWatching()
    {
        _hasGap = true;
        _hasPrevious = false;
        _reference = null;
        _referenceSecond = long.MinValue;
    }

    public void Sample(ChannelWatch channel, WatchContext context, double value, double lowest)
    {
        EngineTime now = context.Now;
        if (_inDip)
        {
            Follow(channel, context, value, lowest);
        }
        else if (Level(channel, context) is { } level)
        {
            double threshold = Threshold(channel, level);
            double deficit = level - value;

            // A dip shorter than the period shows in the minimum only, which lies below the value by noise as well.
            // Nothing floats on the air of a standing wheel, and switching the air off is no dip.
            if ((deficit > threshold || (_steps >= NoiseNeeds && level - lowest > threshold + (3 * _meanSpread)))
                && !EvidenceReader.WheelStands(context))
            {
                _inDip = true;
                _level = level;
                _threshold = threshold;
                _start = now;
                _depth = level - lowest;
                _area = 0;
                _hasGap = false;
                _trace.Restart(now);
                _saidDepth = _depth;
                _finding = context.Desk.Raise(Facts(channel, context, now, endedBy: null));
            }
            else
            {
                Learn(value, lowest);
            }
        }
        else
        {
            Learn(value, lowest);
        }

        _lastTime = now;
        _lastDeficit = _inDip ? _level - value : 0;
    }

    public void OutOfService(WatchContext context) => context.Desk.TakeOutOfService(ref _finding, context.Now);

    public void GoneStale(WatchContext context)
    {
        if (_finding is not null && !_hasGap)
        {
            context.Desk.Restate(_finding, cause: "stale");
        }

        _hasGap = true;
        _hasPrevious = false;
    }

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        _trace.Sync(archive);
        archive.Sync(ref _reference);
        archive.Sync(ref _referenceSecond);
        archive.Sync(ref _levelFrom);
        archive.Sync(ref _previous);
        archive.Sync(ref _hasPrevious);
        archive.Sync(ref _meanStep);
        archive.Sync(ref _meanSpread);
        archive.Sync(ref _steps);
        archive.Sync(ref _inDip);
        archive.Sync(ref _level);
        archive.Sync(ref _threshold);
        archive.Sync(ref _start);
        archive.Sync(ref _lastTime);
        archive.Sync(ref _lastDeficit);
        archive.Sync(ref _depth);
        archive.Sync(ref _saidDepth);
        archive.Sync(ref _area);
        archive.Sync(ref _hasGap);
        desk.Sync(archive, ref _finding);
    }

    private void Follow(ChannelWatch channel, WatchContext context, double value, double lowest)
    {
        // What the air does from here on is somebody's hand at the valve as likely as not, and nothing floats on it.
        if (EvidenceReader.WheelStands(context))
        {
            End(channel, context, "wheel-stands");
            return;
        }

        EngineTime now = context.Now;
        double deficit = _level - value;
        _area += 0.5 * (deficit + _lastDeficit) * ((now.Nanoseconds - _lastTime.Nanoseconds) / 1e9);
        _depth = Math.Max(_depth, _level - lowest);
        if (deficit > WayBackBelow * _depth)
        {
            _trace.Restart(now);
        }

        _trace.Add(now, deficit);
        if (deficit <= 0.5 * _threshold)
        {
            End(channel, context, "recovered");
        }
        else if (channel.Definition.Setpoint is { } setpoint && value < context.Settings.AirGoneFraction * setpoint)
        {
            End(channel, context, "air-gone");
        }
        else if (now - _start >= LongestDip)
        {
            End(channel, context, "did-not-recover");
        }
        else if (SeverityOf(channel, _depth) > SeverityOf(channel, _saidDepth) || (_depth - _saidDepth > Math.Max(0.1 * _saidDepth, 0.5 * _threshold) && context.Desk.MayUpdate(_finding!)))
        {
            _saidDepth = _depth;
            context.Desk.Update(_finding!, Facts(channel, context, now, endedBy: null));
        }
    }

    private void End(ChannelWatch channel, WatchContext context, string endedBy)
    {
        context.Desk.End(_finding!, Facts(channel, context, context.Now, endedBy), context.Now);
        _finding = null;
        _inDip = false;
        _hasPrevious = false;
        _reference = null;
        _referenceSecond = long.MinValue;
        if (endedBy is not ("recovered" or "wheel-stands"))
        {
            _levelFrom = context.Now; // the old level means nothing any more, and must not raise the same again
        }
    }

    private void Learn(double value, double lowest)
    {
        if (_hasPrevious)
        {
            double step = Math.Abs(value - _previous);
            _steps++;
            double share = Math.Max(NoiseShare, 1.0 / _steps); // a plain mean until there is enough to forget

            // One jump must not deafen the judge for a minute.
            step = _steps > NoiseNeeds ? Math.Min(step, (4 * _meanStep) + 1e-12) : step;
            _meanStep += share * (step - _meanStep);
            _meanSpread += share * (value - lowest - _meanSpread);
        }

        _previous = value;
        _hasPrevious = true;
    }

    /// <summary>The recent level, once a second; null without enough of it, or with the air not up.</summary>
    private double? Level(ChannelWatch channel, WatchContext context)
    {
        long second = SecondMeans.SecondOf(context.Now);
        if (second != _referenceSecond)
        {
            _referenceSecond = second;
            _reference = channel.Means.MedianBefore(context.Now, skipNewest: 1, least: 5, _levelFrom);
            if (_reference is { } level && channel.Definition.Setpoint is { } setpoint && level < context.Settings.AirUpFraction * setpoint)
            {
                _reference = null;
            }
        }

        return _reference;
    }

    private double Threshold(ChannelWatch channel, double level)
    {
        double sigma = _steps >= NoiseNeeds ? SigmaPerMeanStep * _meanStep : 0;
        return Math.Max(LeastShare * Math.Abs(channel.Definition.Setpoint ?? level), LeastSigmas * sigma);
    }

    /// <summary>The minimum lies below the reading by noise as well: as much is no depth.</summary>
    private Severity SeverityOf(ChannelWatch channel, double depth) =>
        depth - _meanSpread >= AdvisoryShare * Math.Abs(channel.Definition.Setpoint ?? _level) ? Severity.Advisory : Severity.Note;

    private FindingFacts Facts(ChannelWatch channel, WatchContext context, EngineTime until, string? endedBy)
    {
        ChannelDefinition definition = channel.Definition;
        double psi = channel.PsiPerUnit;
        TimeSpan duration = until - _start;
        (string cause, List<FindingDetail> ofAir) = AirCause.Of(channel, context);
        var details = new List<FindingDetail>
        {
            new("depthPsi", _depth * psi),
            new("levelPsi", _level * psi),
            new("lowestPsi", (_level - _depth) * psi),
            new("thresholdPsi", _threshold * psi),
        };
        if (endedBy is not null)
        {
            // A gap in the middle leaves depth and duration as least values; area and time constant mean nothing then.
            RecoveryFit? fit = endedBy == "recovered" && !_hasGap ? _trace.Fit() : null;
            details.Add(new FindingDetail("durationSeconds", duration.TotalSeconds));
            details.Add(new FindingDetail("areaPsiSeconds", _hasGap ? null : _area * psi));
            details.Add(new FindingDetail("recoverySeconds", fit?.TimeConstantSeconds));
            details.Add(new FindingDetail("recoveryErrorSeconds", fit?.StandardErrorSeconds));
            details.Add(new FindingDetail("endedBy", null, endedBy));
        }

        details.AddRange(ofAir);
        string text = endedBy switch
        {
            null => $"{definition.Label} sags: {Say.Number(_depth)} {definition.Unit} below its level of {Say.Number(_level)} {definition.Unit}.",
            "recovered" => $"{definition.Label} sagged by {Say.Number(_depth)} {definition.Unit} for {Say.Seconds(duration)} s and is back at its level of {Say.Number(_level)} {definition.Unit}.",
            "air-gone" => $"{definition.Label} fell by {Say.Number(_depth)} {definition.Unit} from its level of {Say.Number(_level)} {definition.Unit}: the air has gone.",
            "wheel-stands" => $"{definition.Label} was {Say.Number(_depth)} {definition.Unit} below its level of {Say.Number(_level)} {definition.Unit} when the wheel had come to a stand; what it does now floats nothing.",
            _ => $"{definition.Label} fell by {Say.Number(_depth)} {definition.Unit} and has not come back in {Say.Seconds(duration)} s: it has a new level.",
        };
        return new FindingFacts
        {
            Kind = FindingKinds.PressureSag,
            Channel = definition.Id,
            Severity = SeverityOf(channel, _depth),
            Start = _start,
            Value = _depth,
            Limit = _threshold,
            Unit = definition.Unit,
            LimitSource = "1 % of the setpoint (common practice, no source) or 5.5 standard deviations of the reading's noise (derived), whichever is greater",
            Cause = cause,
            Text = text,
            Details = details,
        };
    }
}
