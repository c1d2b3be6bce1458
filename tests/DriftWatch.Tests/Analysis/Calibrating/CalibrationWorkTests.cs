using DriftWatch.Analysis.Calibrating;
using DriftWatch.Tests.Analysis.Statistics;

namespace DriftWatch.Tests.Analysis.Calibrating;

/// <summary>Points against a reference to a curve with its budget: published numbers, known errors, and what must not be made up.</summary>
public sealed class CalibrationWorkTests
{
    /// <summary>JCGM 100:2008, table H.6: the thermometer's readings and their corrections.</summary>
    public static readonly double[] H3Readings = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];

    public static readonly double[] H3Corrections = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];

    [Fact]
    public void The_thermometer_of_JCGM_100_H_3_comes_out_as_published()
    {
        WorkedCalibration worked = CalibrationWork.Of(H3()).Value;
        IReadOnlyList<Uncertain> y = worked.Curve.Coefficients(20);
        Assert.Equal("-0.1712", (y[0].Value - 20).ToString("0.0000"));
        Assert.Equal("0.0029", y[0].StandardUncertainty.ToString("0.0000"));
        Assert.Equal("0.00218", (y[1].Value - 1).ToString("0.00000"));
        Assert.Equal("0.00067", y[1].StandardUncertainty.ToString("0.00000"));
        Assert.Equal("-0.930", worked.Curve.Correlation(0, 1, 20).ToString("0.000"));
        Assert.Equal("0.0035", worked.Curve.ResidualDeviation.ToString("0.0000"));
        Assert.Equal("-0.1494", (worked.Budget.Combined.Value - 30).ToString("0.0000"));
        BudgetLine curve = worked.Budget.Lines[0];
        Assert.Equal("0.0041", curve.Standard!.Value.ToString("0.0000"));
        Assert.Equal(9, curve.Freedom);

        // As found it read the correction too high everywhere; the largest of table H.6 is 0.171 °C.
        Assert.Equal(0.171, worked.AsFound.Largest, 1e-12);
        Assert.Equal(21.35, worked.AsFound.AtReference, 1e-12);
        Assert.Null(worked.Loop);
        Assert.Contains("from below", worked.LoopMissing, StringComparison.Ordinal);
    }

    [Fact]
    public void A_source_that_was_not_measured_stands_as_such_and_not_as_zero()
    {
        WorkedCalibration worked = CalibrationWork.Of(H3()).Value;
        Assert.Equal(["shape that the curve does not follow", "hysteresis"], worked.Budget.Lines.Where(l => l.Standard is null).Select(l => l.Source));
        Assert.Contains("read once", worked.Budget.Lines[1].Basis, StringComparison.Ordinal);
        Assert.Equal(worked.Curve.Observation(30).StandardUncertainty, worked.Budget.Combined.StandardUncertainty, 1e-12);
        Assert.Equal(Conformity.NotJudged, worked.AsLeft.Conformity);
    }

    [Fact]
    public void Known_hysteresis_resolution_and_reference_stand_in_the_budget_with_their_divisors()
    {
        // Volts over psi, 25 psi a volt, with half a psi of hysteresis at the middle and none at the ends.
        double[] nominal = [0, 25, 50, 75, 100];
        double[] loop = [0, 0.3, 0.5, 0.3, 0];
        List<CalibrationPoint> points = [.. nominal.Select((p, i) => new CalibrationPoint(p, p, [(p - (loop[i] / 2)) / 25, (p - (loop[i] / 2)) / 25], false))];
        points.AddRange(nominal.Select((p, i) => new CalibrationPoint(p, p, [(p + (loop[i] / 2)) / 25, (p + (loop[i] / 2)) / 25], true)).Reverse());
        WorkedCalibration worked = CalibrationWork.Of(new CalibrationRun
        {
            Points = points,
            ReferenceUncertainty = 0.05,
            ReferenceResolution = 0.01,
            RawResolution = 0.001,
            WorkingRaw = 2,
            Tolerance = 1,
            InForce = raw => (25 * raw) + 2,
        }).Value;
        Assert.Equal(0.5, worked.Loop!.Value.Largest, 1e-4);
        Assert.Equal(50, worked.Loop.Value.AtPoint);
        double Of(string source) => worked.Budget.Lines.Single(l => l.Source == source).Standard!.Value;
        Assert.Equal(0.5 / Math.Sqrt(12), Of("hysteresis"), 1e-4);
        Assert.Equal(0.025 / Math.Sqrt(12), Of("resolution of the input"), 1e-5);
        Assert.Equal(0.01 / Math.Sqrt(12), Of("resolution of the reference"), 1e-12);
        Assert.Equal(0.05, Of("the reference itself"));
        Assert.Equal(0, Of("shape that the curve does not follow"), 1e-3); // up and down cancel: not counted twice
        Assert.Equal(0, Of("repeatability of a reading"), 1e-12);
        double sum = Math.Sqrt(worked.Budget.Lines.Sum(l => l.Standard!.Value * l.Standard.Value));
        Assert.Equal(sum, worked.Budget.Combined.StandardUncertainty, 1e-12);
        Assert.Equal(2 * sum, worked.Budget.Expanded, 1e-12);
        Assert.Equal(2.25, worked.AsFound.Largest, 1e-9);
        Assert.Equal(Conformity.Outside, worked.AsFound.Conformity);
        Assert.Equal(Conformity.Within, worked.AsLeft.Conformity);
    }

    [Theory]
    [InlineData(0.5, 0.2, 1.0, Conformity.Within)]
    [InlineData(-0.5, 0.5, 1.0, Conformity.Within)]
    [InlineData(0.9, 0.2, 1.0, Conformity.Undecided)]
    [InlineData(-1.1, 0.2, 1.0, Conformity.Undecided)]
    [InlineData(1.3, 0.2, 1.0, Conformity.Outside)]
    [InlineData(1.3, 0.2, null, Conformity.NotJudged)]
    public void A_tolerance_is_judged_with_the_uncertainty_counted_in(double error, double expanded, double? tolerance, Conformity expected) =>
        Assert.Equal(expected, CalibrationWork.Judge(error, expanded, tolerance));

    /// <summary>2000 calibrations of five points up and down: how often k = 2 holds the true value of a further reading.</summary>
    [Fact]
    public void The_expanded_uncertainty_holds_what_a_further_reading_truly_stands_for()
    {
        var random = new Random(20261129);
        double[] nominal = [0, 25, 50, 75, 100];
        int held = 0;
        const int Rounds = 2000;
        for (int round = 0; round < Rounds; round++)
        {
            double reference = 0.1 * Series.Normal(random); // this reference's own error, the same at all points
            CalibrationPoint Point(double p, bool falling) =>
                new(p, p, [.. Enumerable.Range(0, 5).Select(_ => (p + reference + (0.2 * Series.Normal(random))) / 25)], falling);
            CalibrationRun run = new()
            {
                Points = [.. nominal.Select(p => Point(p, false)), .. nominal.Reverse().Select(p => Point(p, true))],
                ReferenceUncertainty = 0.1,
                WorkingRaw = 2.4,
                InForce = raw => 25 * raw,
            };
            WorkedCalibration worked = CalibrationWork.Of(run).Value;
            double raw = (60 + (0.2 * Series.Normal(random))) / 25;
            held += Math.Abs(worked.Curve.At(raw).Value - 60) <= worked.Budget.Expanded ? 1 : 0;
        }

        Assert.InRange(held / (double)Rounds, 0.94, 0.99);
    }

    [Fact]
    public void Too_few_points_and_a_curve_that_turns_give_no_calibration()
    {
        Assert.Equal("points", CalibrationWork.Of(H3() with { Points = [.. H3().Points.Take(2)] }).Missing!.What);
        double[] x = [0, 1, 2, 3, 4];
        CalibrationRun turning = new() { Points = [.. x.Select(v => new CalibrationPoint(v, (v - 2) * (v - 2), [v], false))], Degree = 2, InForce = v => v };
        Assert.Equal("calibrated ranges without a turn", CalibrationWork.Of(turning).Missing!.What);
        Assert.Throws<ArgumentException>(() => CalibrationWork.Of(turning with { Points = [new CalibrationPoint(1, 1, [], false)] }));
    }

    [Fact]
    public void A_line_that_has_come_to_rest_is_told_from_one_that_still_moves()
    {
        double[] seconds = [0, 1, 2, 3, 4, 5];
        Assert.True(Settling.Of(seconds, [1.0, 1.01, 0.99, 1.0, 1.01, 1.0]).Value.IsSettled);
        Settling moving = Settling.Of(seconds, [1.0, 1.2, 1.41, 1.6, 1.81, 2.0]).Value;
        Assert.False(moving.IsSettled);
        Assert.Equal(1.0, moving.Change, 0.02);
        Assert.True(Settling.Of(seconds, [1.0, 1.2, 1.41, 1.6, 1.81, 2.0], enough: 2).Value.IsSettled);
        Assert.True(Settling.Of(seconds, [1, 1, 1, 1, 1, 1]).Value.IsSettled);
        Assert.False(Settling.Of(seconds, [0, 1, 1, 1, 1, 1]).Value.IsSettled); // one reading is still of the point before
        Assert.False(Settling.Of([0, 1, 2], [1, 1, 1]).IsKnown);
    }

    internal static CalibrationRun H3() => new()
    {
        Points = [.. H3Readings.Select((t, i) => new CalibrationPoint(t + H3Corrections[i], t + H3Corrections[i], [t], false))],
        WorkingRaw = 30,
        InForce = t => t,
    };
}
