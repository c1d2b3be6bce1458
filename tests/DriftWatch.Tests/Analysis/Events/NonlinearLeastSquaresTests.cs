using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Events;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Events;

public sealed class NonlinearLeastSquaresTests
{
    private static readonly JsonElement Strd = Golden.Json("data/strd").GetProperty("nonlinear");

    private static readonly Dictionary<string, Func<IReadOnlyList<double>, double, double>> Models = new()
    {
        ["Misra1a"] = (b, x) => b[0] * (1 - Math.Exp(-b[1] * x)),
        ["BoxBOD"] = (b, x) => b[0] * (1 - Math.Exp(-b[1] * x)),
        ["Chwirut1"] = (b, x) => Math.Exp(-b[0] * x) / (b[1] + (b[2] * x)),
        ["Chwirut2"] = (b, x) => Math.Exp(-b[0] * x) / (b[1] + (b[2] * x)),
        ["DanWood"] = (b, x) => b[0] * Math.Pow(x, b[1]),
        ["MGH09"] = (b, x) => b[0] * ((x * x) + (b[1] * x)) / ((x * x) + (b[2] * x) + b[3]),
        ["MGH10"] = (b, x) => b[0] * Math.Exp(b[1] / (x + b[2])),
        ["MGH17"] = (b, x) => b[0] + (b[1] * Math.Exp(-b[3] * x)) + (b[2] * Math.Exp(-b[4] * x)),
        ["Lanczos3"] = (b, x) => (b[0] * Math.Exp(-b[1] * x)) + (b[2] * Math.Exp(-b[3] * x)) + (b[4] * Math.Exp(-b[5] * x)),
    };

    /// <summary>Certified values of NIST's Statistical Reference Datasets, from its nearer start: 7 digits of each parameter, 5 of each standard deviation.</summary>
    [Theory]
    [InlineData("Misra1a")]
    [InlineData("BoxBOD")]
    [InlineData("Chwirut1")]
    [InlineData("Chwirut2")]
    [InlineData("DanWood")]
    [InlineData("MGH09")]
    [InlineData("MGH10")]
    [InlineData("MGH17")]
    [InlineData("Lanczos3", 6)]
    public void From_the_nearer_start_it_has_the_certified_digits_of_nist(string set, int digits = 7)
    {
        JsonElement kept = Strd.GetProperty(set);
        NonlinearFit fit = Fit(set, "start2").Value;
        Close(kept.GetProperty("certified").Doubles(), fit.Parameters, Math.Pow(10, -digits));
        Close(kept.GetProperty("certified_sd").Doubles(), fit.StandardErrors, 1e-5);
        Assert.Equal(kept.Number("RSS"), fit.Squares, 1e-6 * kept.Number("RSS"));
    }

    /// <summary>From NIST's further start a search may stray; then there must be no answer rather than a wrong one.</summary>
    [Theory]
    [InlineData("Misra1a")]
    [InlineData("BoxBOD")]
    [InlineData("Chwirut1")]
    [InlineData("Chwirut2")]
    [InlineData("DanWood")]
    [InlineData("MGH09")]
    [InlineData("MGH10")]
    [InlineData("MGH17")]
    [InlineData("Lanczos3", 6)]
    public void From_the_further_start_it_is_right_or_silent(string set, int digits = 7)
    {
        Answer<NonlinearFit> fit = Fit(set, "start1");
        if (fit.IsKnown)
        {
            Close(Strd.GetProperty(set).GetProperty("certified").Doubles(), fit.Value.Parameters, Math.Pow(10, -digits));
        }
        else
        {
            Assert.Contains(set, new[] { "MGH10", "MGH17" });
        }
    }

    /// <summary>A plain search from start 1 ends at about (172.5, 110.9), where the exponential has no effect left: both the criterion and the rank must refuse it.</summary>
    /// <summary>On 1e9 four digits of a signal of a thousandth are left; parameters and errors must be those without the offset to as many.</summary>
    [Fact]
    public void A_huge_offset_leaves_the_answer_as_exact_as_the_values_are()
    {
        double[] x = [.. Enumerable.Range(0, 240).Select(i => (double)i)];
        double[] y = [.. Statistics.Series.Lehmer(240).Select((v, i) => (2e-3 * Math.Exp(-i / 50.0)) + (1e-3 * v))];
        NonlinearFit near = NonlinearLeastSquares.Fit(Model, x, y, [y[0], 1e-3]).Value;
        NonlinearFit far = NonlinearLeastSquares.Fit(Model, x, [.. y.Select(v => 1e9 + v)], [1e9 + y[0], 1e-3]).Value;
        Assert.Equal(near.Parameters[0], far.Parameters[0] - 1e9, 5e-7);
        Assert.Equal(near.Parameters[1], far.Parameters[1], 0.02 * near.StandardErrors[1]);
        Assert.Equal(1, far.StandardErrors[1] / near.StandardErrors[1], 1e-3);

        static double Model(IReadOnlyList<double> b, double at) => b[0] + (b[1] * Math.Exp(-at / 50));
    }

    [Fact]
    public void The_wrong_optimum_of_boxbod_is_refused()
    {
        Answer<NonlinearFit> fit = Fit("BoxBOD", [172.5, 110.9]);
        Assert.False(fit.IsKnown);
        Assert.Equal("determined parameters", fit.Missing!.What);
    }

    [Fact]
    public void A_parameter_without_effect_is_not_determined() =>
        Assert.False(NonlinearLeastSquares.Fit((b, x) => b[0] + (0 * b[1] * x), [1, 2, 3, 4], [1, 2, 1, 2], [1, 1]).IsKnown);

    [Fact]
    public void Two_parameters_that_only_count_together_are_not_determined() =>
        Assert.False(NonlinearLeastSquares.Fit((b, x) => (b[0] + b[1]) * x, [1, 2, 3, 4], [1, 2.1, 2.9, 4], [1, 1]).IsKnown);

    [Fact]
    public void As_many_points_as_parameters_are_not_enough() =>
        Assert.Equal(new Shortfall("points", 2, 3), NonlinearLeastSquares.Fit((b, x) => b[0] + (b[1] * x), [1, 2], [1, 2], [1, 1]).Missing);

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        Assert.Equal("y", Assert.Throws<ArgumentException>(() => NonlinearLeastSquares.Fit((b, x) => x, [1, 2], [1], [1])).ParamName);
        Assert.Equal("start", Assert.Throws<ArgumentException>(() => NonlinearLeastSquares.Fit((b, x) => x, [1, 2], [1, 2], [])).ParamName);
        Assert.Equal("x", Assert.Throws<ArgumentException>(() => NonlinearLeastSquares.Fit((b, x) => x, [1, double.NaN], [1, 2], [1])).ParamName);
    }

    private static Answer<NonlinearFit> Fit(string set, string start) => Fit(set, Strd.GetProperty(set).GetProperty(start).Doubles());

    private static Answer<NonlinearFit> Fit(string set, double[] start)
    {
        double[][] rows = [.. Strd.GetProperty(set).GetProperty("data_yx").EnumerateArray().Select(r => r.Doubles())];
        double[] x = [.. rows.Select(r => r[1])];
        double[] y = [.. rows.Select(r => r[0])];
        return NonlinearLeastSquares.Fit(Models[set], x, y, start);
    }

    private static void Close(double[] expected, IReadOnlyList<double> actual, double relative)
    {
        for (int i = 0; i < expected.Length; i++)
        {
            Assert.Equal(expected[i], actual[i], relative * Math.Abs(expected[i]));
        }
    }
}
