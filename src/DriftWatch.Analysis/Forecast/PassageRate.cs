using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.Forecast;

/// <summary>The chance a step that noise which has not yet reached a limit does so, by its distance z in deviations; see <see cref="FirstReading"/>.</summary>
internal sealed class PassageRate
{
    private const double Nearest = -8;
    private const double Furthest = 12;
    private const int PerUnit = 100;

    private readonly double[] _rates;
    private readonly double[] _sums;

    /// <param name="correlation">From one reading to the next, 0 to below 1.</param>
    internal PassageRate(double correlation)
    {
        int count = ((int)(Furthest - Nearest) * PerUnit) + 1;
        _rates = new double[count];
        _sums = new double[count];
        double mean = 1;
        for (int i = 0; i < count; i++)
        {
            double z = Nearest + ((double)i / PerUnit);
            double freed;
            if (z <= 0)
            {
                freed = 1 - (0.78 * z) + (0.22 * z * z);
            }
            else
            {
                double u = z - (0.5 / PerUnit);
                mean += Math.Sqrt(2 * Math.PI) * Math.Exp(u * u / 2) * Normal.CDF(0, 1, u) / PerUnit;
                freed = 1 / mean;
            }

            double x = Math.Max(0, z) * Math.Sqrt(2 * (1 - correlation));
            double slow = (1 - correlation) * freed * OnSteps(x);
            _rates[i] = Math.Min(slow, Independent(z));
        }

        // From far off to z, by trapezia.
        for (int i = count - 2; i >= 0; i--)
        {
            _sums[i] = _sums[i + 1] + ((_rates[i] + _rates[i + 1]) / 2 / PerUnit);
        }
    }

    /// <summary>Chances of so many steps together, for a distance that shrinks by <paramref name="approach"/> a step.</summary>
    internal double Sum(double distance, double approach, double steps)
    {
        double end = distance - (approach * steps);

        // So little way that the rate is the same all along; the difference of the sums would be rounding.
        return Math.Abs(end - distance) < 1e-6
            ? At(_rates, distance) * steps
            : Math.Max(0, (Integral(end) - Integral(distance)) / approach);
    }

    private double Integral(double z) => z >= Nearest ? At(_sums, z) : _sums[0] + (_rates[0] * (Nearest - z));

    private static double At(double[] table, double z)
    {
        if (z >= Furthest)
        {
            return 0;
        }

        double place = Math.Max(0, (z - Nearest) * PerUnit);
        int i = Math.Min((int)place, table.Length - 2);
        return table[i] + ((place - i) * (table[i + 1] - table[i]));
    }

    /// <summary>−ln Φ(z), through the upper tail where Φ is nearly 1.</summary>
    private static double Independent(double z) => z > 0 ? -Math.Log(1 - Normal.CDF(0, 1, -z)) : -Math.Log(Normal.CDF(0, 1, z));

    private static double OnSteps(double x) => x < 1e-6
        ? 1
        : 2 / x * (Normal.CDF(0, 1, x / 2) - 0.5) / ((x / 2 * Normal.CDF(0, 1, x / 2)) + Normal.PDF(0, 1, x / 2));
}
