using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Relations;

/// <summary>A channel on an even grid of slots, some of which may be empty; 0 stands in an empty slot, about the median of the others.</summary>
internal sealed class GappySeries
{
    private GappySeries(double[] values, bool[] present) => (Values, Present) = (values, present);

    public double[] Values { get; }

    public bool[] Present { get; }

    public int Filled => Present.Count(p => p);

    /// <summary>The mean of the readings in each slot of a step, the first slot beginning half a step before the origin.</summary>
    public static GappySeries OnGrid(ReadOnlySpan<double> times, ReadOnlySpan<double> values, double origin, double step, int slots)
    {
        double[] sums = new double[slots];
        int[] counts = new int[slots];
        for (int i = 0; i < times.Length; i++)
        {
            long slot = (long)Math.Round((times[i] - origin) / step);
            if (slot >= 0 && slot < slots)
            {
                sums[slot] += values[i] - values[0];
                counts[slot]++;
            }
        }

        bool[] present = [.. counts.Select(c => c > 0)];
        for (int i = 0; i < slots; i++)
        {
            sums[i] = present[i] ? sums[i] / counts[i] : 0;
        }

        return new GappySeries(sums, present).Centred();
    }

    /// <summary>Autocorrelations over the pairs there are (Parzen 1963), lags 0 … maxLag.</summary>
    public double[] Autocorrelations(int maxLag)
    {
        double[] r = new double[maxLag + 1];
        double variance = 0;
        int count = 0;
        for (int i = 0; i < Values.Length; i++)
        {
            variance += Values[i] * Values[i];
            count += Present[i] ? 1 : 0;
        }

        variance /= Math.Max(1, count);
        r[0] = 1;
        for (int k = 1; k <= maxLag && variance > 0; k++)
        {
            double sum = 0;
            int pairs = 0;
            for (int i = k; i < Values.Length; i++)
            {
                sum += Values[i] * Values[i - k];
                pairs += Present[i] && Present[i - k] ? 1 : 0;
            }

            r[k] = pairs > 0 ? sum / pairs / variance * (1 - (k / (double)Values.Length)) : 0;
        }

        return r;
    }

    /// <summary>xₜ − Σ φⱼxₜ₋ⱼ wherever all of these are there.</summary>
    public GappySeries Filtered(double[] phi)
    {
        double[] values = new double[Values.Length];
        bool[] present = new bool[Values.Length];
        for (int i = phi.Length; i < values.Length; i++)
        {
            bool all = Present[i];
            double sum = Values[i];
            for (int j = 1; j <= phi.Length && all; j++)
            {
                all = Present[i - j];
                sum -= phi[j - 1] * Values[i - j];
            }

            present[i] = all;
            values[i] = all ? sum : 0;
        }

        return new GappySeries(values, present).Centred();
    }

    /// <summary>Values further than a number of robust deviations from the middle, held at that.</summary>
    public GappySeries Held(double deviations)
    {
        double[] there = [.. Values.Where((_, i) => Present[i])];
        Answer<double> scale = RobustScale.Mad(there);
        if (!scale.IsKnown || !(scale.Value > 0))
        {
            return this;
        }

        double limit = deviations * scale.Value;
        return new GappySeries([.. Values.Select(v => Math.Clamp(v, -limit, limit))], Present);
    }

    private GappySeries Centred()
    {
        double[] there = [.. Values.Where((_, i) => Present[i])];
        double centre = there.Length == 0 ? 0 : RobustScale.Median(there).Value;
        return new GappySeries([.. Values.Select((v, i) => Present[i] ? v - centre : 0)], Present);
    }
}
