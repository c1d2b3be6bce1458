using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Drifts;

/// <summary>
/// What hands did at a knob, so that it can be taken out of every line and out of what a drift has used. A channel that wanders slowly hardly moves from 10 s to 10 s, and
/// what it follows is taken out first: there a turn stands out that in a window of an hour is lost among the wander. A drift goes on on both sides of a turn; a turn alone leaves nothing.
/// </summary>
internal sealed class HandTurns
{
    // Turns that are remembered, in the 160 minutes of the longest window. Source: common practice, no source.
    private const int Most = 24;

    // In mean sizes of the steps from 10 s to 10 s, each 0.8 of a deviation. Source: derived, five deviations: by chance once in some months of 10 s.
    private const double StandsOut = 6;

    // Steps that are remembered, some twenty minutes. Source: common practice, no source.
    private const double Share = 1.0 / 128;

    // Steps before their usual size is known. Source: common practice, no source.
    private const int Least = 20;

    // Of one turn the means before, in and behind it all know: nearer than this is the same turn. Source: derived, five means make a step.
    private const int Apart = 4;

    private readonly long[] _spans = new long[Most];
    private readonly double[] _sizes = new double[Most];
    private int _count;
    private double _usual;
    private int _steps;
    private double _greatest;
    private double _baseline = double.NaN;

    /// <summary>By how much hands have moved the channel since its baseline was taken, in its unit.</summary>
    public double SinceBaseline { get; private set; }

    /// <summary>10 s were closed: was there a turn in the last of them? It is known 30 s later, when the step over it was greatest.</summary>
    public void Look(DriftMemory memory, Following? following, double baseline)
    {
        if (baseline != _baseline)
        {
            _baseline = baseline;
            SinceBaseline = 0;
        }

        long newest = memory.Bin - 1;
        double step = 0.5 * (Freed(newest) + Freed(newest - 1) - Freed(newest - 3) - Freed(newest - 4));
        if (double.IsNaN(step))
        {
            _greatest = 0;
            return;
        }

        bool standsOut = _steps >= Least && Math.Abs(step) > StandsOut * _usual;
        if (_greatest != 0 && !(step * Math.Sign(_greatest) > Math.Abs(_greatest)))
        {
            Remember(newest - 3, _greatest);
            _greatest = 0;
        }
        else if (standsOut && (_count == 0 || newest - 2 - _spans[_count - 1] > Apart))
        {
            _greatest = step;
        }
        else if (!standsOut)
        {
            _steps = Math.Min(_steps + 1, (int)(1 / Share));
            _usual += Math.Max(Share, 1.0 / _steps) * (Math.Abs(step) - _usual);
        }

        double Freed(long span) => memory.MeanOf(0, span) - (following is { } cause ? cause.Share * cause.Memory.MeanOf(0, span) : 0);
    }

    /// <summary>What hands added behind a span of 10 s; of a turn in it, half.</summary>
    public double Behind(long span)
    {
        double sum = 0;
        for (int i = _count - 1; i >= 0 && _spans[i] >= span; i--)
        {
            sum += _spans[i] == span ? 0.5 * _sizes[i] : _sizes[i];
        }

        return sum;
    }

    public void Clear()
    {
        _count = 0;
        _steps = 0;
        _usual = 0;
        _greatest = 0;
        _baseline = double.NaN;
        SinceBaseline = 0;
    }

    public void Sync(StateArchive archive)
    {
        double since = SinceBaseline;
        archive.Sync(ref since);
        SinceBaseline = since;
        archive.Sync(ref _baseline);
        archive.Sync(ref _usual);
        archive.Sync(ref _steps);
        archive.Sync(ref _greatest);
        _count = archive.SyncCount(_count);
        for (int i = 0; i < _count; i++)
        {
            archive.Sync(ref _spans[i]);
            archive.Sync(ref _sizes[i]);
        }
    }

    private void Remember(long span, double size)
    {
        if (_count == Most)
        {
            Array.Copy(_spans, 1, _spans, 0, Most - 1);
            Array.Copy(_sizes, 1, _sizes, 0, Most - 1);
            _count--;
        }

        _spans[_count] = span;
        _sizes[_count++] = size;
        SinceBaseline += size;
    }
}
