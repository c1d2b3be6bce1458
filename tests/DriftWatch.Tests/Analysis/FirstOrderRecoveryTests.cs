using DriftWatch.Analysis.Sags;
using Xunit;

namespace DriftWatch.Tests.Analysis;

public class FirstOrderRecoveryTests
{
    private static (double[] T, double[] D) Curve(double amplitude, double tau, double step, int n, Func<double>? noise = null, double origin = 0)
    {
        double[] t = new double[n];
        double[] d = new double[n];
        for (int i = 0; i < n; i++)
        {
            t[i] = origin + (i * step);
            d[i] = (amplitude * Math.Exp(-i * step / tau)) + (noise?.Invoke() ?? 0);
        }

        return (t, d);
    }

    [Theory]
    [InlineData(4, 0.37, 0.1, 20, 0)]
    [InlineData(0.6, 2.2, 0.1, 60, 1e6)]
    [InlineData(50, 120, 1, 100, -5)]
    public void Without_noise_it_is_exact(double amplitude, double tau, double step, int n, double origin)
    {
        (double[] t, double[] d) = Curve(amplitude, tau, step, n, origin: origin);
        RecoveryFit fit = FirstOrderRecovery.Fit(t, d)!.Value;
        Assert.Equal(tau, fit.TimeConstantSeconds, tau * 1e-6);
        Assert.Equal(amplitude, fit.Amplitude, amplitude * 1e-6);
        Assert.InRange(fit.StandardErrorSeconds, 0, tau * 1e-6);
    }

    /// <summary>The stated error must be the scatter of the estimate: over 2000 trials (est−τ)/SE has variance one and no bias.</summary>
    [Theory]
    [InlineData(20261125)]
    public void The_stated_error_is_the_scatter(int seed)
    {
        var random = new Random(seed);
        double Noise() => 0.05 * Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
        double sum = 0;
        double squares = 0;
        const int trials = 2000;
        for (int i = 0; i < trials; i++)
        {
            (double[] t, double[] d) = Curve(3, 1.5, 0.1, 40, Noise);
            RecoveryFit fit = FirstOrderRecovery.Fit(t, d)!.Value;
            double z = (fit.TimeConstantSeconds - 1.5) / fit.StandardErrorSeconds;
            sum += z;
            squares += z * z;
        }

        Assert.True(Math.Abs(sum / trials) < 0.12, $"seed {seed}: bias of {sum / trials:0.000} standard errors");
        Assert.True(squares / trials is > 0.85 and < 1.2, $"seed {seed}: variance {squares / trials:0.000}, should be 1.05 (t with 38 degrees of freedom)");
    }

    [Fact]
    public void What_does_not_decay_or_is_too_short_has_no_time_constant()
    {
        Assert.Null(FirstOrderRecovery.Fit([0, 1, 2], [3, 2, 1]));
        Assert.Null(FirstOrderRecovery.Fit([], []));
        Assert.Null(FirstOrderRecovery.Fit([0, 1, 2, 3, 4], [1, 1, 1, 1, 1]));
        Assert.Null(FirstOrderRecovery.Fit([0, 1, 2, 3, 4], [1, 2, 3, 4, 5]));
        Assert.Null(FirstOrderRecovery.Fit([0, 1, 2, 3, 4], [-1, -2, -1, -2, -1]));
        Assert.Null(FirstOrderRecovery.Fit([0, 0, 0, 0, 0], [5, 4, 3, 2, 1]));
        Assert.Throws<ArgumentException>(() => FirstOrderRecovery.Fit([0, 1], [1]));
    }
}
