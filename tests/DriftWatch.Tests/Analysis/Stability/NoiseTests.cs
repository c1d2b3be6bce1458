using System.Text.Json;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Stability;
using DriftWatch.Tests.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Stability;

public sealed class NoiseTests
{
    [Fact]
    public void Equivalent_degrees_of_freedom_agree_with_exact_covariances_of_every_kind_of_noise()
    {
        var off = new List<string>();
        foreach (JsonElement row in Golden.Json("stability/freedom").GetProperty("rows").EnumerateArray())
        {
            double exact = row.Number("edf");
            double found = EquivalentFreedom.Of(
                (NoiseKind)(int)row.Number("alpha"), (int)row.Number("d"), (int)row.Number("m"), (int)row.Number("n"),
                row.GetProperty("overlapping").GetBoolean(), row.GetProperty("modified").GetBoolean())!.Value;

            // Only averages of 2000 readings are approximated, and flicker noise is cut off in the script.
            double tolerance = row.Number("m") > 1024 ? 3e-3 : 1e-4;
            if (Math.Abs(found - exact) > tolerance * exact)
            {
                off.Add($"{row}: {found}");
            }
        }

        Assert.True(off.Count == 0, string.Join("\n", off));
    }

    [Theory]
    [InlineData(101, 8)]
    [InlineData(1001, 32)]
    [InlineData(4097, 256)]
    public void Equivalent_degrees_of_freedom_are_near_the_empirical_formulas_of_Howe_Allan_and_Barnes(int n, int m)
    {
        // 35th Frequency Control Symposium, 1981; NIST SP 1065, table 5. From memory; stated there as good to some percent.
        double points = n;
        double white = ((3 * (points - 1) / (2 * m)) - (2 * (points - 2) / points)) * 4 * m * m / ((4.0 * m * m) + 5);
        double flicker = 5 * points * points / (4 * m * (points + (3 * m)));
        double walk = (points - 2) / m * (((points - 1) * (points - 1)) - (3 * m * (points - 1)) + (4.0 * m * m)) / ((points - 3) * (points - 3));
        Assert.InRange(Of(NoiseKind.WhiteFrequency) / white, 0.93, 1.07);
        Assert.InRange(Of(NoiseKind.FlickerFrequency) / flicker, 0.9, 1.1);
        Assert.InRange(Of(NoiseKind.RandomWalkFrequency) / walk, 0.93, 1.07);

        double Of(NoiseKind kind) => EquivalentFreedom.Of(kind, 2, m, n, overlapping: true, modified: false)!.Value;
    }

    [Fact]
    public void Noise_steeper_than_the_variance_can_bear_has_no_freedom()
    {
        Assert.Null(EquivalentFreedom.Of(NoiseKind.FlickerWalkFrequency, 2, 4, 101, true, false));
        Assert.NotNull(EquivalentFreedom.Of(NoiseKind.RandomRunFrequency, 3, 4, 101, true, false));
        Assert.Null(EquivalentFreedom.Of(NoiseKind.WhiteFrequency, 2, 60, 101, true, false));
    }

    [Theory]
    [InlineData(2)]
    [InlineData(1)]
    [InlineData(0)]
    [InlineData(-1)]
    [InlineData(-2)]
    public void The_lag_1_autocorrelation_identifies_made_noise_of_every_kind(int alpha)
    {
        int right = 0;
        double sum = 0;
        var random = new Random(20260101);
        for (int round = 0; round < 100; round++)
        {
            double[] y = PowerLaw.Readings(random, 600, alpha);
            NoiseIdentity identity = NoiseIdentification.Of(y, 1).Value;
            right += (int)identity.Kind == alpha ? 1 : 0;
            sum += identity.Exponent;
        }

        Assert.True(right >= 95, $"{right} of 100 right");
        Assert.Equal(alpha, sum / 100, 0.15);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(-1)]
    [InlineData(-2)]
    public void The_interval_of_the_deviation_covers_as_often_as_it_says(int alpha)
    {
        // 2000 records of 512 readings; the deviation in the limit from an average over all records. ±1 % is two of its errors.
        const int Rounds = 2000;
        int[] octaves = [0, 2, 4, 5];
        var random = new Random(20260102);
        var records = new AllanPoint[Rounds][];
        for (int round = 0; round < Rounds; round++)
        {
            records[round] = AllanPoints.Octaves(PowerLaw.Readings(random, 512, alpha), 1).Value;
        }

        foreach (int octave in octaves)
        {
            double truth = Math.Sqrt(records.Average(r => r[octave].Deviation * r[octave].Deviation));
            double covered = records.Count(r => r[octave].Low <= truth && truth <= r[octave].High) / (double)Rounds;
            Assert.True(covered is > 0.92 and < 0.98, $"alpha {alpha}, octave {octave}: {covered}");
        }
    }

    [Theory]
    [InlineData(StabilityDeviation.Allan)]
    [InlineData(StabilityDeviation.Modified)]
    [InlineData(StabilityDeviation.Hadamard)]
    [InlineData(StabilityDeviation.OverlappingHadamard)]
    public void The_intervals_of_its_kin_cover_as_often_as_they_say_for_white_noise_and_a_walk(StabilityDeviation which)
    {
        const int Rounds = 2000;
        foreach (int alpha in new[] { 0, -2 })
        {
            var random = new Random(20260110);
            var records = new AllanPoint[Rounds][];
            for (int round = 0; round < Rounds; round++)
            {
                records[round] = AllanPoints.Octaves(PowerLaw.Readings(random, 300, alpha), 1, 0.95, which).Value;
            }

            foreach (int octave in new[] { 0, 2, 4 })
            {
                double truth = Math.Sqrt(records.Average(r => r[octave].Deviation * r[octave].Deviation));
                double covered = records.Count(r => r[octave].Low <= truth && truth <= r[octave].High) / (double)Rounds;
                Assert.True(covered is > 0.92 and < 0.98, $"alpha {alpha}, octave {octave}: {covered}");
            }
        }
    }

    [Fact]
    public void Each_point_has_the_deviation_that_was_asked_for()
    {
        double[] x = Series.FirstOrder(new Random(6), 200, 0.5);
        AllanPoint Point(StabilityDeviation which) => AllanPoints.Octaves(x, 0.5, 0.95, which).Value[3];
        Assert.Equal(AllanDeviation.Plain(x, 8).Value, Point(StabilityDeviation.Allan).Deviation);
        Assert.Equal(AllanDeviation.Overlapping(x, 8).Value, Point(StabilityDeviation.OverlappingAllan).Deviation);
        Assert.Equal(AllanDeviation.Modified(x, 8).Value, Point(StabilityDeviation.Modified).Deviation);
        Assert.Equal(AllanDeviation.Hadamard(x, 8).Value, Point(StabilityDeviation.Hadamard).Deviation);
        Assert.Equal(AllanDeviation.OverlappingHadamard(x, 8).Value, Point(StabilityDeviation.OverlappingHadamard).Deviation);
        Assert.Equal(4, Point(StabilityDeviation.Allan).Seconds);
        Assert.Equal(8, Point(StabilityDeviation.Allan).Averaged);
    }

    [Fact]
    public void White_noise_is_rarely_called_anything_else()
    {
        foreach (int count in new[] { 64, 300, 1000 })
        {
            int wrong = 0;
            int drifting = 0;
            var random = new Random(20260103 + count);
            const int Rounds = 2000;
            for (int round = 0; round < Rounds; round++)
            {
                NoiseVerdict verdict = WhiteOrRed.Classify(Series.White(random, count), 0.1).Value;
                wrong += verdict.Colour != NoiseColour.White ? 1 : 0;
                drifting += verdict.RisesAtEnd ? 1 : 0;
            }

            Assert.True(wrong <= 0.07 * Rounds, $"{count}: {wrong} of {Rounds}");
            Assert.True(wrong >= 0.01 * Rounds, $"{count}: {wrong} of {Rounds}: the test no longer tests anything");
            Assert.True(drifting <= 0.05 * Rounds, $"{count}: {drifting}");
        }
    }

    [Fact]
    public void White_noise_on_a_slow_walk_is_red_with_the_best_averaging_time_where_the_two_meet()
    {
        // White of variance 1 and a walk of variance q a step: ADEV² = 1/m + q·m/3, least at m = √(3/q) = 17.3.
        var random = new Random(20260104);
        double[] white = Series.White(random, 20_000);
        double[] walk = Series.Walk(random, 20_000);
        double[] x = [.. white.Zip(walk, (w, r) => 5 + w + (0.1 * r))];
        NoiseVerdict verdict = WhiteOrRed.Classify(x, 0.5).Value;
        Assert.Equal(NoiseColour.Red, verdict.Colour);
        Assert.InRange(verdict.BestSeconds, 4, 16);
        Assert.InRange(verdict.BestDeviation, 0.3, 0.4);
        Assert.True(verdict.RisesAtEnd);
        Assert.False(verdict.AveragingHelps);
        Assert.Equal(NoiseKind.RandomWalkFrequency, verdict.Points.Last(p => 20_000 / p.Averaged >= 300).Noise);
    }

    [Fact]
    public void Opposing_neighbours_are_blue_and_a_first_order_series_is_red_yet_worth_averaging()
    {
        var random = new Random(20260105);
        double[] white = Series.White(random, 4001);
        double[] differences = [.. Enumerable.Range(0, 4000).Select(i => white[i + 1] - white[i])];
        Assert.Equal(NoiseColour.Blue, WhiteOrRed.Classify(differences, 1).Value.Colour);
        NoiseVerdict firstOrder = WhiteOrRed.Classify(Series.FirstOrder(random, 4000, 0.9), 1).Value;
        Assert.Equal(NoiseColour.Red, firstOrder.Colour);
        Assert.Equal(0, firstOrder.WhiteSeconds);
        Assert.True(firstOrder.AveragingHelps);
        Assert.False(firstOrder.RisesAtEnd);
    }

    [Fact]
    public void Too_few_readings_one_point_and_nothing_but_faults_are_not_enough()
    {
        Assert.Equal(new Shortfall("points", 63, 64), WhiteOrRed.Classify(Series.Lehmer(63), 1).Missing);
        Assert.Equal(new Shortfall("points", 1, 64), WhiteOrRed.Classify([4], 1).Missing);
        Assert.False(WhiteOrRed.Classify([], 1).IsKnown);
        Assert.Equal(new Shortfall("points", 29, 30), AllanPoints.Octaves(Series.Lehmer(29), 1).Missing);
        Assert.Equal(new Shortfall("averages", 29, 30), NoiseIdentification.Of(Series.Lehmer(290), 10).Missing);
    }

    [Fact]
    public void A_constant_series_has_no_noise_to_classify()
    {
        double[] x = [.. Enumerable.Repeat(1e9 + 0.1, 100)];
        Assert.Equal(new Shortfall("distinct values", 1, 2), WhiteOrRed.Classify(x, 1).Missing);
        Assert.False(AllanPoints.Octaves(x, 1).IsKnown);
        Assert.False(NoiseIdentification.Of(x, 1).IsKnown);
    }

    [Fact]
    public void Ties_nearly_everywhere_leave_an_answer()
    {
        double[] x = new double[200];
        x[77] = 1;
        Assert.True(WhiteOrRed.Classify(x, 1).IsKnown);
    }

    [Fact]
    public void A_huge_offset_changes_no_verdict()
    {
        double[] x = Series.FirstOrder(new Random(5), 1000, 0.9);
        NoiseVerdict plain = WhiteOrRed.Classify(x, 1).Value;
        NoiseVerdict shifted = WhiteOrRed.Classify([.. x.Select(v => 1e9 + (1e-3 * v))], 1).Value;
        Assert.Equal(plain.Colour, shifted.Colour);
        Assert.Equal(plain.BestSeconds, shifted.BestSeconds);
        Assert.Equal(1e-3 * plain.BestDeviation, shifted.BestDeviation, 1e-8);
    }
}
