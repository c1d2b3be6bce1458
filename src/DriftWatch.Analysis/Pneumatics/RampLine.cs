namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// Least squares of a line as readings come, kept as means and central moments so that neither a huge time nor a huge pressure costs digits; two can be joined
/// (Chan, Golub and LeVeque, 'Algorithms for computing the sample variance', The American Statistician 37, 1983).
/// </summary>
internal struct RampLine
{
    private int _count;
    private double _time;
    private double _value;
    private double _tt;
    private double _tv;
    private double _vv;

    public readonly int Count => _count;

    /// <summary>Value units a second; 0 where there is no line.</summary>
    public readonly double Slope => _tt > 0 ? _tv / _tt : 0;

    /// <summary>Standard error of the slope as if the readings were independent; infinite below three.</summary>
    public readonly double SlopeError => _count > 2 && _tt > 0
        ? Math.Sqrt(Math.Max(0, _vv - (_tv * _tv / _tt)) / (_count - 2) / _tt)
        : double.PositiveInfinity;

    public void Add(double time, double value)
    {
        _count++;
        double t = time - _time;
        double v = value - _value;
        _time += t / _count;
        _value += v / _count;
        double share = (_count - 1.0) / _count;
        _tt += share * t * t;
        _tv += share * t * v;
        _vv += share * v * v;
    }

    public void Join(in RampLine other)
    {
        if (other._count == 0)
        {
            return;
        }

        double t = other._time - _time;
        double v = other._value - _value;
        int all = _count + other._count;
        double share = (double)_count * other._count / all;
        _tt += other._tt + (share * t * t);
        _tv += other._tv + (share * t * v);
        _vv += other._vv + (share * v * v);
        _time += t * other._count / all;
        _value += v * other._count / all;
        _count = all;
    }

    public void Sync(IStateFields fields)
    {
        fields.Sync(ref _count);
        fields.Sync(ref _time);
        fields.Sync(ref _value);
        fields.Sync(ref _tt);
        fields.Sync(ref _tv);
        fields.Sync(ref _vv);
    }
}
