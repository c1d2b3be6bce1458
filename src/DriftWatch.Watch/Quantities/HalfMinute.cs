using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Quantities;

/// <summary>The last half minute of one value, tick by tick, and its order, made anew once a second.</summary>
internal sealed class HalfMinute
{
    public const int TicksASecond = 10;
    public const int Ticks = 300;

    private readonly double[] _recent = new double[Ticks];
    private readonly double[] _sorted = new double[Ticks];
    private int _ticks;

    /// <summary>Half a minute has been given since it was last forgotten.</summary>
    public bool IsFull => _ticks >= Ticks;

    /// <summary>Ascending; only meaningful when <see cref="Add"/> has just told so.</summary>
    public ReadOnlySpan<double> Sorted => _sorted;

    public double Median => 0.5 * (_sorted[(Ticks / 2) - 1] + _sorted[Ticks / 2]);

    /// <summary>True once a second when it is full: <see cref="Sorted"/> is of now.</summary>
    public bool Add(double value)
    {
        _recent[_ticks % Ticks] = value;
        _ticks = _ticks + 1 < 2 * Ticks ? _ticks + 1 : _ticks + 1 - Ticks; // a multiple of a second and of the memory
        if (!IsFull || _ticks % TicksASecond != 0)
        {
            return false;
        }

        _recent.CopyTo(_sorted, 0);
        Array.Sort(_sorted);
        return true;
    }

    public void Forget() => _ticks = 0;

    public void Sync(StateArchive archive)
    {
        archive.Sync(ref _ticks);
        for (int i = 0; i < _recent.Length; i++)
        {
            archive.Sync(ref _recent[i]);
        }
    }
}
