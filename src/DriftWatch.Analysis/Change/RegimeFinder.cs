using DriftWatch.Analysis.Statistics;
using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.Change;

/// <summary>The regimes of a record, and the noise about them that decided how many there are.</summary>
/// <param name="Changes">Index of the first sample of each new regime, rising; empty where one regime explains all.</param>
/// <param name="Levels">Level of each regime, in the values' unit: one more than changes.</param>
/// <param name="Sigma">Standard deviation of the noise.</param>
/// <param name="Rho">Correlation of neighbours in it.</param>
/// <param name="Spikes">Values that were left out as spikes.</param>
public sealed record Regimes(IReadOnlyList<int> Changes, IReadOnlyList<double> Levels, double Sigma, double Rho, int Spikes);

/// <summary>
/// Cuts a record into regimes of a level whose noise may be first-order autoregressive, without taking the noise's own wander
/// for changes. How much a cut must explain depends on ρ, and ρ on the cuts: left in, a change looks like correlation. So the
/// exact penalised segmentation (<see cref="Segmentation.OfLevel"/>, 3 ln n a change) is made for a ladder of ρ, with the
/// long-run standard deviation that each implies for the record's steps from sample to sample; and of the cuttings found, the
/// one is taken that explains the record best as levels and noise together: n·ln(variance of what is new in each value, its
/// three predecessors known) + 3 ln n a change is least. (Derived; the criterion is that of Chakar, Lebarbier, Lévy-Leduc and Robin, Bernoulli 23,
/// 2017, in spirit and from memory. How often it cuts plain noise is in this folder's README.)
/// </summary>
public static class RegimeFinder
{
    /// <summary>Independent values that the record must be worth in all, once its regimes are found.</summary>
    public const double LeastEffective = 30;

    /// <summary>Independent values in each regime.</summary>
    private const double LeastInRegime = 10;

    /// <summary>Values before that may foretell one. Derived: first-order noise with white noise on top is told well enough by three, and more would take a change for noise.</summary>
    private const int Order = 3;

    private static readonly double[] Ladder = [0, 0.15, 0.3, 0.45, 0.6, 0.7, 0.8, 0.85, 0.9, 0.93, 0.95, 0.97];

    /// <param name="values">Evenly sampled, in the order of time, faults taken out; they should be rare.</param>
    /// <returns>A shortfall where the record is worth fewer than 30 independent values, or where nothing varies.</returns>
    /// <exception cref="ArgumentException">A value is not finite.</exception>
    public static Answer<Regimes> Find(ReadOnlySpan<double> values)
    {
        Finite.Require(values);
        if (values.Length < LeastEffective)
        {
            return new Shortfall("points", values.Length, LeastEffective);
        }

        int[] places = SpikeFilter.Kept(values);
        double[] kept = SpikeFilter.Pick(values, places);
        double steps = 0;
        for (int i = 1; i < kept.Length; i++)
        {
            steps += (kept[i] - kept[i - 1]) * (kept[i] - kept[i - 1]) / (2 * (kept.Length - 1));
        }

        if (!(steps > 0))
        {
            return new Shortfall("distinct values", 1, 2);
        }

        double penalty = SegmentPenalty.Strict(kept.Length);
        int[] best = [];
        double least = Misfit(kept, places, best);
        foreach (double rho in Ladder)
        {
            int[] cuts = Cut(kept, rho, steps, penalty);
            double misfit = Misfit(kept, places, cuts) + (penalty * cuts.Length);
            if (misfit < least)
            {
                (least, best) = (misfit, cuts);
            }
        }

        StepNoise noise = StepNoise.Of(Residuals(kept, best), places, best.Length + 1);
        double effective = noise.Effective(kept.Length);
        return effective < LeastEffective
            ? new Shortfall("independent points", effective, LeastEffective)
            : new Regimes(
                [.. best.Select(c => places[c])], Levels(kept, best), Math.Sqrt(noise.Variance), noise.Rho, values.Length - kept.Length);
    }

    /// <summary>When one of the changes was, with its interval: <see cref="StepFinder"/> on the two regimes beside it alone.</summary>
    /// <param name="values">The record that the regimes were found in.</param>
    /// <param name="regimes">Its regimes.</param>
    /// <param name="change">Which of the changes, from 0.</param>
    /// <returns>Indices are those of the record. A shortfall as <see cref="StepFinder.Find"/> has it.</returns>
    /// <exception cref="ArgumentException">A value is not finite, there is no such change, or the record is not the one.</exception>
    public static Answer<StepFinding> Instant(ReadOnlySpan<double> values, Regimes regimes, int change)
    {
        if (change < 0 || change >= regimes.Changes.Count)
        {
            throw new ArgumentException($"There are {regimes.Changes.Count} changes.", nameof(change));
        }

        int from = change == 0 ? 0 : regimes.Changes[change - 1];
        int to = change + 1 == regimes.Changes.Count ? values.Length : regimes.Changes[change + 1];
        if (to > values.Length || from >= regimes.Changes[change] || regimes.Changes[change] >= to)
        {
            throw new ArgumentException("The record is shorter than the one that these regimes are of.", nameof(values));
        }

        Answer<StepFinding> step = StepFinder.Find(values[from..to]);
        return step.IsKnown
            ? step.Value with { Change = step.Value.Change + from, From = step.Value.From + from, To = step.Value.To + from }
            : step;
    }

    /// <summary>Steps between neighbours have half the mean square σ²(1 − ρ), which no change of the level spoils much.</summary>
    private static int[] Cut(double[] kept, double rho, double steps, double penalty)
    {
        double longRun = steps * (1 + rho) / ((1 - rho) * (1 - rho));
        int least = (int)Math.Ceiling(LeastInRegime * (1 + rho) / (1 - rho));
        return least <= kept.Length ? [.. Segmentation.OfLevel(kept, Math.Sqrt(longRun), penalty, least).Value.Changes] : [];
    }

    /// <summary>
    /// n·ln of the variance of what the three values before do not foretell, about the levels, from the values with three
    /// neighbours before them and no gap. First-order noise needs one of the three; white noise on top needs the others.
    /// </summary>
    private static double Misfit(double[] kept, int[] places, int[] cuts)
    {
        double[] residuals = Residuals(kept, cuts);
        var products = Matrix<double>.Build.Dense(Order + 1, Order + 1);
        int rows = 0;
        for (int i = Order; i < residuals.Length; i++)
        {
            if (places[i] - places[i - Order] != Order)
            {
                continue;
            }

            rows++;
            for (int a = 0; a <= Order; a++)
            {
                for (int b = a; b <= Order; b++)
                {
                    products[a, b] += residuals[i - a] * residuals[i - b];
                }
            }
        }

        double fresh = Left(products);
        return rows > 2 * Order && fresh > 0 ? kept.Length * Math.Log(fresh / rows) : double.NegativeInfinity;
    }

    /// <summary>Sum of squares that regression on the lags leaves: the last pivot when the lags are eliminated one by one.</summary>
    private static double Left(Matrix<double> upper)
    {
        for (int a = Order; a >= 1; a--)
        {
            double pivot = upper[a, a];
            if (!(pivot > 0))
            {
                continue;
            }

            for (int b = 0; b < a; b++)
            {
                for (int c = b; c < a; c++)
                {
                    upper[b, c] -= upper[b, a] * upper[c, a] / pivot;
                }
            }
        }

        return upper[0, 0];
    }

    private static double[] Residuals(double[] kept, int[] cuts)
    {
        double[] levels = Levels(kept, cuts);
        double[] residuals = new double[kept.Length];
        int regime = 0;
        for (int i = 0; i < kept.Length; i++)
        {
            regime += regime < cuts.Length && i == cuts[regime] ? 1 : 0;
            residuals[i] = kept[i] - levels[regime];
        }

        return residuals;
    }

    private static double[] Levels(double[] kept, int[] cuts)
    {
        double[] levels = new double[cuts.Length + 1];
        for (int r = 0; r < levels.Length; r++)
        {
            int from = r == 0 ? 0 : cuts[r - 1];
            int to = r == cuts.Length ? kept.Length : cuts[r];
            double sum = 0;
            for (int i = from; i < to; i++)
            {
                sum += kept[i] - kept[from];
            }

            levels[r] = kept[from] + (sum / (to - from));
        }

        return levels;
    }
}
