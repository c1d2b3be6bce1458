namespace DriftWatch.Tests.Analysis.Trend;

internal enum Wild
{
    None,
    BothSides,
    OneSide,
}

/// <summary>First-order autoregressive noise of standard deviation 1; a tenth of it ten deviations off where wild is asked for.</summary>
internal sealed class SeededNoise(int seed)
{
    private readonly Random _random = new(seed);

    public double Gauss() => Math.Sqrt(-2 * Math.Log(1 - _random.NextDouble())) * Math.Cos(2 * Math.PI * _random.NextDouble());

    public double[] Next(int n, double rho, Wild wild, double slope = 0)
    {
        double[] y = new double[n];
        double e = Gauss();
        for (int i = 0; i < n; i++)
        {
            e = i == 0 ? e : (rho * e) + (Math.Sqrt(1 - (rho * rho)) * Gauss());
            double off = wild != Wild.None && _random.NextDouble() < 0.1 ? (wild == Wild.OneSide || _random.Next(2) == 0 ? 10 : -10) : 0;
            y[i] = e + off + (slope * i);
        }

        return y;
    }
}
