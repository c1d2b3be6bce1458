using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Calibrating;

/// <summary>What an instrument shows more on the way down than on the way up.</summary>
/// <param name="Mean">Mean difference, falling less rising, with the uncertainty of that mean from its scatter over the points.</param>
/// <param name="Largest">The largest difference in size, with its sign, in the unit of y.</param>
/// <param name="AtPoint">The x of it.</param>
/// <param name="ShareOfSpan">|<paramref name="Largest"/>| over the span of y: no unit.</param>
/// <param name="StandardUncertainty">What it adds to an uncertainty budget, |largest|/√12: half the loop either way, evenly likely (GUM 4.3.7).</param>
/// <param name="IsSignificant">The mean difference is beyond its 95 % expanded uncertainty: more than noise.</param>
/// <param name="Points">How many points it was compared at.</param>
public readonly record struct HysteresisLoop(
    Uncertain Mean, double Largest, double AtPoint, double ShareOfSpan, double StandardUncertainty, bool IsSignificant, int Points);

/// <summary>Hysteresis from one run with rising and one with falling points.</summary>
public static class Hysteresis
{
    /// <summary>Points to compare at, so that the mean difference has an uncertainty worth the name.</summary>
    public const int LeastPoints = 3;

    /// <summary>
    /// Compares at each point of the rising run that the falling run reaches; between two falling points their straight line.
    /// </summary>
    /// <param name="rising">x of the upward run, rising.</param>
    /// <param name="risingValues">As many y.</param>
    /// <param name="falling">x of the downward run, falling.</param>
    /// <param name="fallingValues">As many y.</param>
    /// <returns>A shortfall below 3 common points, or where y has no span.</returns>
    /// <exception cref="ArgumentException">A value is not finite, lengths differ, or a run does not go its way.</exception>
    public static Answer<HysteresisLoop> Of(
        ReadOnlySpan<double> rising, ReadOnlySpan<double> risingValues, ReadOnlySpan<double> falling, ReadOnlySpan<double> fallingValues)
    {
        Finite.Require(rising);
        Finite.Require(risingValues);
        Finite.Require(falling);
        Finite.Require(fallingValues);
        RequireRun(rising, risingValues, 1, nameof(rising), nameof(risingValues));
        RequireRun(falling, fallingValues, -1, nameof(falling), nameof(fallingValues));
        var differences = new Moments();
        var span = new Moments();
        double largest = 0;
        double atPoint = 0;
        int j = falling.Length - 1;
        for (int i = 0; i < rising.Length; i++)
        {
            // j walks the falling run backwards, so that its points rise as well.
            while (j > 0 && falling[j - 1] <= rising[i])
            {
                j--;
            }

            if (falling.Length == 0 || rising[i] < falling[^1] || rising[i] > falling[0])
            {
                continue;
            }

            double down = falling[j] == rising[i] || j == 0
                ? fallingValues[j]
                : fallingValues[j] + ((fallingValues[j - 1] - fallingValues[j]) * (rising[i] - falling[j]) / (falling[j - 1] - falling[j]));
            double difference = down - risingValues[i];
            differences.Add(difference);
            span.Add(down);
            span.Add(risingValues[i]);
            if (differences.Count == 1 || Math.Abs(difference) > Math.Abs(largest))
            {
                (largest, atPoint) = (difference, rising[i]);
            }
        }

        int points = (int)differences.Count;
        if (points < LeastPoints)
        {
            return new Shortfall("points common to both runs", points, LeastPoints);
        }

        double range = span.Greatest.Value - span.Least.Value;
        if (!(range > 0))
        {
            return new Shortfall("distinct values", 1, 2);
        }

        var mean = new Uncertain(differences.Mean.Value, differences.StandardDeviation.Value / Math.Sqrt(points), points - 1);
        return new HysteresisLoop(mean, largest, atPoint, Math.Abs(largest) / range, Math.Abs(largest) / Math.Sqrt(12), mean.IsSignificant(), points);
    }

    private static void RequireRun(ReadOnlySpan<double> x, ReadOnlySpan<double> y, int direction, string xName, string yName)
    {
        if (x.Length != y.Length)
        {
            throw new ArgumentException("As many values as points are needed.", yName);
        }

        for (int i = 1; i < x.Length; i++)
        {
            if (!(direction * (x[i] - x[i - 1]) > 0))
            {
                throw new ArgumentException($"Point {i} does not go {(direction > 0 ? "up" : "down")}.", xName);
            }
        }
    }
}
