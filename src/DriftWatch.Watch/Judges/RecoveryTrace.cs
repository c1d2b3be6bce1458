using DriftWatch.Analysis.Sags;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// The way back of a sag in at most 128 points: when full, every second point goes and only every second one is taken
/// from there on, so that a slow recovery is covered whole at the size of a fast one.
/// </summary>
internal sealed class RecoveryTrace
{
    private const int Capacity = 128;

    private readonly double[] _seconds = new double[Capacity];
    private readonly double[] _deficits = new double[Capacity];
    private int _count;
    private int _stride = 1;
    private int _seen;
    private EngineTime _origin;

    public void Restart(EngineTime origin)
    {
        _origin = origin;
        _count = 0;
        _stride = 1;
        _seen = 0;
    }

    public void Add(EngineTime time, double deficit)
    {
        if (_seen++ % _stride != 0)
        {
            return;
        }

        if (_count == Capacity)
        {
            for (int i = 0; i < Capacity / 2; i++)
            {
                _seconds[i] = _seconds[2 * i];
                _deficits[i] = _deficits[2 * i];
            }

            _count = Capacity / 2;
            _stride *= 2;
            _seen = 1; // this one is taken, the next ones wait for the new stride
        }

        _seconds[_count] = (time.Nanoseconds - _origin.Nanoseconds) / 1e9;
        _deficits[_count] = deficit;
        _count++;
    }

    public RecoveryFit? Fit() => FirstOrderRecovery.Fit(_seconds.AsSpan(0, _count), _deficits.AsSpan(0, _count));

    public void Sync(StateArchive archive)
    {
        archive.Sync(ref _stride);
        archive.Sync(ref _seen);
        archive.Sync(ref _origin);
        _count = archive.SyncCount(_count);
        if (_count > Capacity)
        {
            throw new FormatException($"A recovery of {_count} points; {Capacity} is the most.");
        }

        for (int i = 0; i < _count; i++)
        {
            archive.Sync(ref _seconds[i]);
            archive.Sync(ref _deficits[i]);
        }
    }
}
