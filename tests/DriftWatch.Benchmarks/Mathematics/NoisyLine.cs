namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>How a record is spoiled on purpose.</summary>
public enum Spoiled
{
    No,

    /// <summary>A tenth of the readings, at random, are off by ten standard deviations to either side.</summary>
    BothSides,

    /// <summary>As before, but all upwards.</summary>
    OneSide,
}

/// <summary>First-order autoregressive noise of standard deviation 1 from a fixed seed, with white noise and wild readings if wanted.</summary>
public sealed class NoisyLine(int seed)
{
    private readonly Random _random = new(seed);
    private double _spare = double.NaN;

    /// <summary>The size at which n readings of correlation ρ say as much as so many independent ones.</summary>
    public static int SizeFor(double independent, double rho) => (int)Math.Ceiling((independent * (1 + rho) / (1 - rho)) - 1e-9);

    public double[] Next(int n, double rho, Spoiled spoiled, double slope = 0, double white = 0)
    {
        double[] y = new double[n];
        double slow = Gauss();
        double fresh = Math.Sqrt(1 - (rho * rho));
        for (int i = 0; i < n; i++)
        {
            slow = i == 0 ? slow : (rho * slow) + (fresh * Gauss());
            y[i] = slow + (slope * i) + (white > 0 ? white * Gauss() : 0);
        }

        for (int i = 0; spoiled != Spoiled.No && i < n; i++)
        {
            if (_random.NextDouble() < 0.1)
            {
                y[i] += spoiled == Spoiled.BothSides && _random.Next(2) == 0 ? -10 : 10;
            }
        }

        return y;
    }

    /// <summary>Normal by the polar method of Marsaglia and Bray (1964).</summary>
    public double Gauss()
    {
        if (!double.IsNaN(_spare))
        {
            double kept = _spare;
            _spare = double.NaN;
            return kept;
        }

        while (true)
        {
            double u = (2 * _random.NextDouble()) - 1;
            double v = (2 * _random.NextDouble()) - 1;
            double s = (u * u) + (v * v);
            if (s is > 0 and < 1)
            {
                double factor = Math.Sqrt(-2 * Math.Log(s) / s);
                _spare = v * factor;
                return u * factor;
            }
        }
    }
}
