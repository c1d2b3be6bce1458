namespace DriftWatch.Tests.Analysis.Statistics;

/// <summary>Made series of known kind.</summary>
internal static class Series
{
    /// <summary>Lehmer's generator as the golden scripts use it: uniform within 0 and 1.</summary>
    public static double[] Lehmer(int count, long seed = 20260101)
    {
        var y = new double[count];
        for (int i = 0; i < count; i++)
        {
            seed = seed * 16807 % 2147483647;
            y[i] = seed / 2147483647.0;
        }

        return y;
    }

    public static double Normal(Random random) =>
        Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());

    public static double[] White(Random random, int count)
    {
        var x = new double[count];
        for (int i = 0; i < count; i++)
        {
            x[i] = Normal(random);
        }

        return x;
    }

    /// <summary>A stationary first-order series of unit variance from its first value on.</summary>
    public static double[] FirstOrder(Random random, int count, double rho)
    {
        var x = new double[count];
        x[0] = Normal(random);
        double scale = Math.Sqrt(1 - (rho * rho));
        for (int i = 1; i < count; i++)
        {
            x[i] = (rho * x[i - 1]) + (scale * Normal(random));
        }

        return x;
    }

    public static double[] Walk(Random random, int count)
    {
        var x = new double[count];
        for (int i = 1; i < count; i++)
        {
            x[i] = x[i - 1] + Normal(random);
        }

        return x;
    }
}
