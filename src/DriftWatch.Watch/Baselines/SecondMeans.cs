using DriftWatch.Analysis;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Baselines;

/// <summary>
/// The last 30 s of a channel as sums over whole seconds of engine time: enough for a baseline mean and for a running
/// median that a sag or a loss can't drag along, at a fixed small size whatever the sampling rate.
/// Seconds without readings are absent, never filled.
/// </summary>
internal sealed class SecondMeans
{
    public const int Span = 30;

    private readonly long[] _seconds = new long[Span];
    private readonly double[] _sums = new double[Span];
    private readonly int[] _counts = new int[Span];
    private readonly double[] _scratch = new double[Span];
    private long _second = long.MinValue;
    private int _slot = -1;

    public SecondMeans() => Clear();

    public void Add(EngineTime time, double value)
    {
        long second = SecondOf(time);
        if (second != _second)
        {
            _second = second;
            _slot = (int)((ulong)second % Span);
            _seconds[_slot] = second;
            _sums[_slot] = 0;
            _counts[_slot] = 0;
        }

        _sums[_slot] += value;
        _counts[_slot]++;
    }

    public void Clear()
    {
        Array.Fill(_seconds, long.MinValue);
        Array.Clear(_counts);
        Array.Clear(_sums);
        _second = long.MinValue;
    }

    /// <summary>Mean of the readings of the running second and the 29 before it; null without any.</summary>
    public double? MeanAt(EngineTime now)
    {
        long newest = SecondOf(now);
        double sum = 0;
        long count = 0;
        for (long second = newest - Span + 1; second <= newest; second++)
        {
            int slot = (int)((ulong)second % Span);
            if (_seconds[slot] == second)
            {
                sum += _sums[slot];
                count += _counts[slot];
            }
        }

        return count == 0 ? null : sum / count;
    }

    /// <summary>Standard deviation of the means of the finished seconds among the last 30; null with fewer than five.</summary>
    public double? DeviationAt(EngineTime now)
    {
        long running = SecondOf(now);
        int n = 0;
        double sum = 0;
        for (int pass = 0; pass < 2; pass++)
        {
            double mean = n > 0 ? sum / n : 0;
            (n, sum) = (0, 0);
            for (long second = running - Span + 1; second < running; second++)
            {
                int slot = (int)((ulong)second % Span);
                if (_seconds[slot] == second && _counts[slot] > 0)
                {
                    double value = _sums[slot] / _counts[slot];
                    sum += pass == 0 ? value : (value - mean) * (value - mean);
                    n++;
                }
            }
        }

        return n < 5 ? null : Math.Sqrt(sum / (n - 1));
    }

    /// <summary>Readings in <see cref="MeanAt"/>.</summary>
    public int CountAt(EngineTime now)
    {
        long newest = SecondOf(now);
        int count = 0;
        for (int slot = 0; slot < Span; slot++)
        {
            count += _seconds[slot] > newest - Span && _seconds[slot] <= newest ? _counts[slot] : 0;
        }

        return count;
    }

    /// <summary>
    /// First-order correlation of the means of the finished seconds among the last 30, and as how many independent ones they
    /// count; null with a hole or fewer than twenty.
    /// </summary>
    public (double Correlation, double EffectiveSize)? MemoryAt(EngineTime now)
    {
        int n = 0;
        for (int back = Span - 1; back >= 1; back--)
        {
            if (MeanOfSecond(now, back) is { } mean)
            {
                _scratch[n++] = mean;
            }
            else if (n > 0)
            {
                return null;
            }
        }

        if (n < 20)
        {
            return null;
        }

        Answer<FirstOrderEstimate> memory = Autocorrelation.FirstOrder(_scratch.AsSpan(0, n));
        return memory.IsKnown ? (memory.Value.Rho, memory.Value.EffectiveSampleSize) : null;
    }

    /// <summary>Mean of the whole second that lies <paramref name="secondsBack"/> before the running one; null when it has no readings.</summary>
    public double? MeanOfSecond(EngineTime now, int secondsBack)
    {
        long second = SecondOf(now) - secondsBack;
        int slot = (int)((ulong)second % Span);
        return _seconds[slot] == second && _counts[slot] > 0 ? _sums[slot] / _counts[slot] : null;
    }

    /// <summary>
    /// Median of the means of the finished seconds among the last 30, leaving out the newest
    /// <paramref name="skipNewest"/> of them and those that began before <paramref name="notBefore"/>; null with
    /// fewer than <paramref name="least"/>.
    /// </summary>
    public double? MedianBefore(EngineTime now, int skipNewest, int least, EngineTime notBefore)
    {
        long running = SecondOf(now);
        long first = notBefore == EngineTime.MinValue ? long.MinValue : SecondOf(notBefore) + 1;
        int n = 0;
        for (long second = Math.Max(first, running - Span + 1); second < running - skipNewest; second++)
        {
            int slot = (int)((ulong)second % Span);
            if (_seconds[slot] == second && _counts[slot] > 0)
            {
                _scratch[n++] = _sums[slot] / _counts[slot];
            }
        }

        if (n < least)
        {
            return null;
        }

        Array.Sort(_scratch, 0, n);
        return n % 2 == 1 ? _scratch[n / 2] : 0.5 * (_scratch[(n / 2) - 1] + _scratch[n / 2]);
    }

    public void Sync(StateArchive archive)
    {
        archive.Sync(ref _second);
        for (int i = 0; i < Span; i++)
        {
            bool used = _seconds[i] != long.MinValue;
            archive.Sync(ref used);
            if (used)
            {
                archive.Sync(ref _seconds[i]);
                archive.Sync(ref _sums[i]);
                archive.Sync(ref _counts[i]);
            }
        }

        _slot = _second == long.MinValue ? -1 : (int)((ulong)_second % Span);
    }

    public static long SecondOf(EngineTime time) => Math.DivRem(time.Nanoseconds, EngineTime.NanosecondsPerSecond).Quotient;
}
