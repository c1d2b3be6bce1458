using DriftWatch.Tests.Analysis.Statistics;

namespace DriftWatch.Tests.Analysis.Stability;

/// <summary>
/// Power-law noise by fractional differences of white noise: Kasdin and Walter, 'Discrete simulation of power law noise'
/// (IEEE Frequency Control Symposium, 1992). Flicker starts long before the record so that it has settled.
/// </summary>
internal static class PowerLaw
{
    private const int RunIn = 500;

    private static readonly double[] Half = Coefficients(0.5);

    /// <summary>Readings whose spectral density goes with f^alpha; alpha 2 … −2.</summary>
    public static double[] Readings(Random random, int count, int alpha)
    {
        switch (alpha)
        {
            case 0:
                return Series.White(random, count);
            case -2:
                return Series.Walk(random, count);
            case 2:
            {
                double[] x = Series.White(random, count + 1);
                return Differences(x);
            }

            case 1:
                return Differences(Flicker(random, count + 1));
            default:
                return Flicker(random, count);
        }
    }

    private static double[] Flicker(Random random, int count)
    {
        double[] w = Series.White(random, count + RunIn);
        var y = new double[count];
        for (int i = 0; i < count; i++)
        {
            double sum = 0;
            for (int k = 0; k < RunIn + i && k < Half.Length; k++)
            {
                sum += Half[k] * w[RunIn + i - k];
            }

            y[i] = sum;
        }

        return y;
    }

    private static double[] Differences(double[] x) => [.. Enumerable.Range(0, x.Length - 1).Select(i => x[i + 1] - x[i])];

    private static double[] Coefficients(double order)
    {
        var h = new double[3000];
        h[0] = 1;
        for (int k = 1; k < h.Length; k++)
        {
            h[k] = h[k - 1] * (k - 1 + order) / k;
        }

        return h;
    }
}
