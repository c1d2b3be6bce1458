using DriftWatch.Analysis.Stability;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>White, flicker and random-walk readings from a fixed seed; flicker by fractional summing (Kasdin and Walter, 1992) after a run-in as long as the record.</summary>
public sealed class PowerLawNoise(int seed)
{
    private readonly NoisyLine _noise = new(seed);
    private double[] _half = [1];

    public double[] Readings(int count, NoiseKind kind)
    {
        double[] w = _noise.Next(kind == NoiseKind.FlickerFrequency ? 2 * count : count, 0, Spoiled.No);
        if (kind == NoiseKind.WhiteFrequency)
        {
            return w;
        }

        if (kind == NoiseKind.RandomWalkFrequency)
        {
            for (int i = 1; i < count; i++)
            {
                w[i] += w[i - 1];
            }

            return w;
        }

        if (_half.Length < w.Length)
        {
            _half = new double[w.Length];
            _half[0] = 1;
            for (int k = 1; k < w.Length; k++)
            {
                _half[k] = _half[k - 1] * (k - 0.5) / k;
            }
        }

        var y = new double[count];
        for (int i = 0; i < count; i++)
        {
            double sum = 0;
            for (int k = 0; k <= count + i; k++)
            {
                sum += _half[k] * w[count + i - k];
            }

            y[i] = sum;
        }

        return y;
    }
}
