using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Events;

/// <summary>
/// Excursions as samples come: a state machine of constant size that allocates nothing. <see cref="Excursions.Find"/> gives the
/// same from a whole record. An excursion is told when nothing can be joined to it any more; until then it is
/// <see cref="Current"/>.
/// </summary>
public sealed class ExcursionDetector(ExcursionRule rule)
{
    private double _lastTime = double.NegativeInfinity;
    private double _lastBeyond;
    private bool _open;
    private Excursion _part;
    private bool _held;
    private Excursion _before;

    public ExcursionRule Rule => rule;

    /// <summary>Whether the value is away at the last sample.</summary>
    public bool IsAway => _open;

    /// <summary>What is known of an excursion that has not been told yet, with the parts joined so far; null where there is none. While the value is away it ends at the last sample.</summary>
    public Excursion? Current => _open
        ? _held && Joins(_part.Start) ? _before.Joined(_part, rule.Side) : _part
        : _held ? _before : null;

    /// <summary>Takes the next sample.</summary>
    /// <param name="time">In seconds, later than the one before.</param>
    /// <param name="value">In the values' unit.</param>
    /// <param name="told">An excursion that is over for good.</param>
    /// <returns>Whether one was told.</returns>
    /// <exception cref="ArgumentException">Time or value is not finite, or the time is not later than the one before.</exception>
    public bool Add(double time, double value, out Excursion told)
    {
        Finite.Require(time);
        Finite.Require(value);
        if (!(time > _lastTime))
        {
            throw new ArgumentException($"Times must rise: {time} s is not later than {_lastTime} s.", nameof(time));
        }

        double beyond = rule.Beyond(value);
        double step = time - _lastTime;
        bool first = double.IsNegativeInfinity(_lastTime);
        bool gap = !first && step > rule.LongestGapSeconds;
        bool any = false;
        told = default;
        if (gap)
        {
            any = Break(out told);
        }

        if (_open)
        {
            Continue(time, value, beyond, step);
        }
        else if (rule.IsAway(value))
        {
            any |= Open(time, value, beyond, first || gap ? 0 : step, any, ref told);
        }
        else if (_held && !any && time - _before.End >= rule.MinSeparationSeconds)
        {
            any = Release(out told);
        }

        _lastTime = time;
        _lastBeyond = beyond;
        return any;
    }

    /// <summary>Tells what is left when the data end; the detector is as new then.</summary>
    public bool Finish(out Excursion told)
    {
        if (_open)
        {
            _open = false;
            Hold(_part with { Ended = ExcursionEnd.Open });
        }

        _lastTime = double.NegativeInfinity;
        return Release(out told);
    }

    private bool Open(double time, double value, double beyond, double step, bool alreadyTold, ref Excursion told)
    {
        double start = time;
        double area = 0;
        if (step > 0)
        {
            // The line from the last sample, which was not away, crosses the start level on the way here.
            double share = Math.Clamp((beyond - rule.Hysteresis) / (beyond - _lastBeyond), 0, 1);
            start = time - (share * step);
            area = share * step * (beyond + rule.Hysteresis) / 2;
        }

        bool any = false;
        if (_held && !Joins(start) && !alreadyTold)
        {
            any = Release(out told);
        }

        _open = true;
        _part = new Excursion(start, time, value, time, area, 1, ExcursionEnd.Open);
        return any;
    }

    private void Continue(double time, double value, double beyond, double step)
    {
        if (beyond > 0)
        {
            bool further = rule.Side == ExcursionSide.Above ? value > _part.Extreme : value < _part.Extreme;
            _part = new Excursion(
                _part.Start,
                time,
                further ? value : _part.Extreme,
                further ? time : _part.ExtremeTime,
                _part.Area + (step * (_lastBeyond + beyond) / 2),
                1,
                ExcursionEnd.Open);
            return;
        }

        double share = _lastBeyond / (_lastBeyond - beyond);
        _open = false;
        Hold(_part with
        {
            End = _lastTime + (share * step),
            Area = _part.Area + (share * step * _lastBeyond / 2),
            Ended = ExcursionEnd.CameBack,
        });
    }

    private bool Break(out Excursion told)
    {
        if (_open)
        {
            _open = false;
            Hold(_part with { Ended = ExcursionEnd.Gap });
        }

        return Release(out told);
    }

    private bool Joins(double start) => start - _before.End < rule.MinSeparationSeconds;

    /// <summary>Keeps a part that is over; what is held already is near enough to join, or it would have been released.</summary>
    private void Hold(Excursion part)
    {
        _before = _held ? _before.Joined(part, rule.Side) : part;
        _held = true;
    }

    private bool Release(out Excursion told)
    {
        told = _before;
        bool any = _held && _before.Duration >= rule.MinDurationSeconds;
        _held = false;
        return any;
    }
}
