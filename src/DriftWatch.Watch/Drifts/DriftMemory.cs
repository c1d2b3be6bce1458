using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Drifts;

/// <summary>
/// What a channel's drift is judged from, at a fixed small size whatever the sampling rate: means of 10 s, and of two, four
/// and eight times that, each in a ring of <see cref="Bins"/>. So windows of 20, 40, 80 and 160 minutes all have the same
/// number of points, and a longer window is not dearer than a short one. A span in which the channel was not judged is a hole
/// and stays one. The longest ring also keeps the least and greatest 10 s mean of each of its spans, because a mean over a
/// sawtooth hides how far it goes. Kept in single precision (seven digits): a drift is far above that, and it halves snapshots.
/// </summary>
internal sealed class DriftMemory
{
    /// <summary>Means in a window.</summary>
    public const int Bins = 120;

    /// <summary>Windows, each twice as long as the one before.</summary>
    public const int Levels = 4;

    /// <summary>Length of the shortest means.</summary>
    public const long BaseNanoseconds = 10 * EngineTime.NanosecondsPerSecond;

    private readonly Ring[] _rings = [new(false), new(false), new(false), new(true)];
    private long _bin = long.MinValue;
    private double _sum;
    private int _count;
    private bool _spoilt;

    /// <summary>Number of the running 10 s since engine time zero.</summary>
    public long Bin => _bin;

    public static double SecondsOf(int level) => (double)BaseNanoseconds / EngineTime.NanosecondsPerSecond * (1 << level);

    public void Add(double value)
    {
        _sum += value;
        _count++;
    }

    /// <summary>The running 10 s are a hole, whatever has been added: the channel was not judged in all of them.</summary>
    public void Spoil() => _spoilt = true;

    /// <summary>Time goes on; true when 10 s were closed.</summary>
    public bool Advance(EngineTime now)
    {
        long bin = Math.DivRem(now.Nanoseconds, BaseNanoseconds).Quotient;
        if (bin == _bin)
        {
            return false;
        }

        if (_count > 0 && !_spoilt)
        {
            float mean = (float)(_sum / _count);
            if (float.IsFinite(mean))
            {
                Put(0, _bin, mean, mean, mean);
            }
        }

        _bin = bin;
        DropRunning();
        return true;
    }

    /// <summary>Nobody watched, or the value's meaning changed: the running 10 s are worth nothing.</summary>
    public void DropRunning()
    {
        _sum = 0;
        _count = 0;
        _spoilt = false;
    }

    public void Clear()
    {
        DropRunning();
        foreach (Ring ring in _rings)
        {
            ring.Clear();
        }
    }

    /// <summary>
    /// The means of a window up to now, oldest first: their middles in seconds before the running span's beginning (so at most
    /// 0), and their values. Both spans must hold <see cref="Bins"/>. Returns how many there are; holes are left out.
    /// </summary>
    public int Read(int level, Span<double> seconds, Span<double> values)
    {
        Ring ring = _rings[level];
        long running = _bin >> level;
        double width = SecondsOf(level);
        int n = 0;
        for (long k = Math.Max(running - Bins, ring.Oldest); k <= Math.Min(running - 1, ring.Newest); k++)
        {
            float value = ring.Means[Slot(k)];
            if (!float.IsNaN(value))
            {
                seconds[n] = (k - running + 0.5) * width;
                values[n++] = value;
            }
        }

        return n;
    }

    /// <summary>The number of the mean whose middle <see cref="Read"/> gave.</summary>
    public long NumberOf(int level, double seconds) => (_bin >> level) + (long)Math.Round((seconds / SecondsOf(level)) - 0.5);

    /// <summary>The 10 s in the middle of a longer span, by their numbers since engine time zero.</summary>
    public static long MiddleOf(int level, long number) => (number << level) + ((1L << level) >> 1);

    /// <summary>One mean by its number since engine time zero; NaN where it is a hole or no longer kept.</summary>
    public double MeanOf(int level, long number)
    {
        Ring ring = _rings[level];
        return number >= ring.Oldest && number <= ring.Newest ? ring.Means[Slot(number)] : double.NaN;
    }

    /// <summary>
    /// How far the 10 s means went, up (<paramref name="sign"/> +1) or down (−1), in each of the longest spans that lie between
    /// two instants given as in <see cref="Read"/>, all as they would be had hands done before what they did. Returns how many spans there are.
    /// </summary>
    public int Extremes(int sign, double fromSeconds, double toSeconds, Span<double> extremes, HandTurns? hands)
    {
        Ring ring = _rings[Levels - 1];
        long running = _bin >> (Levels - 1);
        double width = SecondsOf(Levels - 1);
        int n = 0;
        for (long k = Math.Max(running - Bins, ring.Oldest); k <= Math.Min(running - 1, ring.Newest); k++)
        {
            double middle = (k - running + 0.5) * width;
            if (middle >= fromSeconds && middle < toSeconds && !float.IsNaN(ring.Means[Slot(k)]))
            {
                extremes[n++] = (sign > 0 ? ring.Highs! : ring.Lows!)[Slot(k)] + (hands?.Behind(MiddleOf(Levels - 1, k)) ?? 0);
            }
        }

        return n;
    }

    public void Sync(StateArchive archive)
    {
        archive.Sync(ref _bin);
        archive.Sync(ref _sum);
        archive.Sync(ref _count);
        archive.Sync(ref _spoilt);
        foreach (Ring ring in _rings)
        {
            ring.Sync(archive);
        }
    }

    private static int Slot(long k) => (int)(((k % Bins) + Bins) % Bins);

    private void Put(int level, long k, float mean, float low, float high)
    {
        _rings[level].Store(k, mean, low, high);
        if (level + 1 == Levels)
        {
            return;
        }

        Ring next = _rings[level + 1];
        long parent = k >> 1;
        if (next.Half is { } waiting && waiting != parent)
        {
            Close(level + 1, waiting);
        }

        next.Gather(parent, mean, low, high);
        if ((k & 1) == 1)
        {
            Close(level + 1, parent);
        }
    }

    private void Close(int level, long k)
    {
        Ring ring = _rings[level];
        (float mean, float low, float high) = ring.Gathered();
        Put(level, k, mean, low, high);
    }

    /// <summary>The last means of one length, by their number since engine time zero; a hole is NaN and never leaves the ring.</summary>
    private sealed class Ring
    {
        private float _first;
        private float _low;
        private float _high;
        private bool _hasFirst;
        private float _second;
        private bool _hasSecond;
        private long _half;

        public Ring(bool keepsExtremes)
        {
            if (keepsExtremes)
            {
                Lows = new float[Bins];
                Highs = new float[Bins];
            }

            Clear();
        }

        public float[] Means { get; } = new float[Bins];

        public float[]? Lows { get; }

        public float[]? Highs { get; }

        public long Newest { get; private set; }

        public long Oldest => Newest == long.MinValue ? 0 : Newest - Bins + 1;

        /// <summary>The span of this ring of which a half has come; null while none waits.</summary>
        public long? Half => _hasFirst ? _half : null;

        public void Clear()
        {
            Array.Fill(Means, float.NaN);
            Newest = long.MinValue;
            _hasFirst = _hasSecond = false;
        }

        public void Store(long k, float mean, float low, float high)
        {
            if (Newest == long.MinValue || k - Newest >= Bins)
            {
                Array.Fill(Means, float.NaN);
            }
            else
            {
                for (long hole = Newest + 1; hole < k; hole++)
                {
                    Means[Slot(hole)] = float.NaN;
                }
            }

            Newest = k;
            Means[Slot(k)] = mean;
            if (Lows is not null)
            {
                Lows[Slot(k)] = low;
                Highs![Slot(k)] = high;
            }
        }

        public void Gather(long parent, float mean, float low, float high)
        {
            if (_hasFirst)
            {
                _second = mean;
                _hasSecond = true;
                _low = Math.Min(_low, low);
                _high = Math.Max(_high, high);
                return;
            }

            _half = parent;
            _first = mean;
            _low = low;
            _high = high;
            _hasFirst = true;
        }

        public (float Mean, float Low, float High) Gathered()
        {
            float mean = _hasSecond ? (0.5f * _first) + (0.5f * _second) : _first;
            _hasFirst = _hasSecond = false;
            _second = 0;
            return (mean, _low, _high);
        }

        public void Sync(StateArchive archive)
        {
            long newest = Newest;
            archive.Sync(ref newest);
            Newest = newest;
            archive.Sync(ref _hasFirst);
            archive.Sync(ref _hasSecond);
            if (_hasFirst)
            {
                archive.Sync(ref _half);
                Sync(archive, ref _first);
                Sync(archive, ref _second);
                Sync(archive, ref _low);
                Sync(archive, ref _high);
            }

            if (newest == long.MinValue)
            {
                return;
            }

            int length = Bins;
            while (archive.IsWriting && length > 1 && float.IsNaN(Means[Slot(newest - length + 1)]))
            {
                length--; // a short night makes a short snapshot
            }

            length = archive.SyncCount(length);
            for (int back = length - 1; back >= 0; back--)
            {
                int slot = Slot(newest - back);
                Sync(archive, ref Means[slot]);
                if (Lows is not null)
                {
                    Sync(archive, ref Lows[slot]);
                    Sync(archive, ref Highs![slot]);
                }
            }
        }

        private static void Sync(StateArchive archive, ref float value)
        {
            int bits = BitConverter.SingleToInt32Bits(value);
            archive.Sync(ref bits);
            value = BitConverter.Int32BitsToSingle(bits);
        }
    }
}
