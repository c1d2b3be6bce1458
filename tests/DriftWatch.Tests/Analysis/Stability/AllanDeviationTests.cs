using System.Globalization;
using System.Text.Json;
using CsCheck;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Stability;
using DriftWatch.Tests.Analysis.Statistics;
using DriftWatch.Tests.Support;

namespace DriftWatch.Tests.Analysis.Stability;

public sealed class AllanDeviationTests
{
    /// <summary>The 1000-point set of NIST SP 1065, section 12.4: n₁ = 1234567890, nᵢ₊₁ = 16807 nᵢ mod 2147483647, over 2147483647.</summary>
    private static readonly double[] ThousandPoints = [1234567890 / 2147483647.0, .. Series.Lehmer(999, 1234567890)];

    /// <summary>NBS Monograph 140, annex 8.E, as SP 1065 quotes it.</summary>
    private static readonly double[] NinePoints = [892, 809, 823, 798, 671, 644, 883, 903, 677];

    [Theory]
    [InlineData(1, "2.922319e-01", "2.922319e-01", "2.922319e-01", "1.687202e-01")]
    [InlineData(10, "9.965736e-02", "9.159953e-02", "6.172376e-02", "3.563623e-01")]
    [InlineData(100, "3.897804e-02", "3.241343e-02", "2.170921e-02", "1.253382e+00")]
    public void The_1000_point_set_of_NIST_SP_1065_table_31_to_all_seven_digits(int m, string allan, string overlapping, string modified, string time)
    {
        Assert.Equal(allan, Seven(AllanDeviation.Plain(ThousandPoints, m)));
        Assert.Equal(overlapping, Seven(AllanDeviation.Overlapping(ThousandPoints, m)));
        Assert.Equal(modified, Seven(AllanDeviation.Modified(ThousandPoints, m)));
        Assert.Equal(time, Seven(AllanDeviation.Time(ThousandPoints, m)));
    }

    [Theory]
    [InlineData(1, 0.29438832912, 0.29438832912)]
    [InlineData(10, 0.1052754194, 0.095810831733)]
    [InlineData(100, 0.039108605597, 0.032376382528)]
    public void Hadamard_deviations_of_the_same_set_agree_with_what_allantools_2024_06_printed(int m, double plain, double overlapping)
    {
        Assert.Equal(plain, AllanDeviation.Hadamard(ThousandPoints, m).Value, 1e-11);
        Assert.Equal(overlapping, AllanDeviation.OverlappingHadamard(ThousandPoints, m).Value, 1e-11);
    }

    /// <summary>
    /// What Stable32 1.60 prints for its file PHASE.DAT, which is the sum of the 1000-point set about its mean: overlapping Allan deviation over
    /// octaves, white frequency noise (alpha 0) at every one, 68.3 % intervals (its degrees of freedom are SP 1065's fitted ones, so to a percent);
    /// as the tests of allantools quote it.
    /// </summary>
    [Fact]
    public void The_1000_point_set_has_deviations_noise_and_intervals_that_Stable32_prints()
    {
        (int M, string Low, string Deviation, string High)[] printed =
        [
            (1, "2.8515e-01", "2.9223e-01", "2.9987e-01"), (2, "1.9520e-01", "2.0102e-01", "2.0738e-01"), (4, "1.3931e-01", "1.4479e-01", "1.5098e-01"),
            (8, "1.0038e-01", "1.0570e-01", "1.1198e-01"), (16, "5.7696e-02", "6.1915e-02", "6.7217e-02"), (32, "4.3654e-02", "4.8082e-02", "5.4202e-02"),
            (64, "3.1755e-02", "3.6237e-02", "4.3377e-02"), (128, "2.3045e-02", "2.7674e-02", "3.7027e-02"),
        ];
        AllanPoint[] points = AllanPoints.Octaves(ThousandPoints, 1, 0.683).Value;
        Assert.Equal(printed.Length, points.Length);
        foreach ((AllanPoint found, (int m, string low, string deviation, string high)) in points.Zip(printed))
        {
            Assert.Equal((m, NoiseKind.WhiteFrequency), (found.Averaged, found.Noise));
            Assert.Equal(deviation, found.Deviation.ToString("0.0000e-00", CultureInfo.InvariantCulture));
            Assert.Equal(1, found.Low / double.Parse(low, CultureInfo.InvariantCulture), 1e-2);
            Assert.Equal(1, found.High / double.Parse(high, CultureInfo.InvariantCulture), 1e-2);
        }

        Assert.Equal(NoiseColour.White, WhiteOrRed.Classify(ThousandPoints, 1).Value.Colour);
    }

    [Fact]
    public void The_nine_point_set_agrees_with_what_allantools_2024_06_printed()
    {
        Assert.Equal(91.22944974, AllanDeviation.Plain(NinePoints, 1).Value, 1e-8);
        Assert.Equal(115.8082107, AllanDeviation.Plain(NinePoints, 2).Value, 1e-7);
        Assert.Equal(85.95286984, AllanDeviation.Overlapping(NinePoints, 2).Value, 1e-8);
        Assert.Equal(74.78849343, AllanDeviation.Modified(NinePoints, 2).Value, 1e-8);
        Assert.Equal(70.80607319, AllanDeviation.Hadamard(NinePoints, 1).Value, 1e-8);
        Assert.Equal(116.7979916, AllanDeviation.Hadamard(NinePoints, 2).Value, 1e-7);
    }

    [Fact]
    public void Every_deviation_agrees_with_its_definition_loop_by_loop()
    {
        foreach (JsonElement row in Golden.Json("stability/allan").GetProperty("rows").EnumerateArray())
        {
            double[] y = Golden.DataSet(row.GetProperty("set").GetString()!);
            int m = (int)row.Number("m");
            Near(row.Number("adev"), AllanDeviation.Plain(y, m));
            Near(row.Number("oadev"), AllanDeviation.Overlapping(y, m));
            Near(row.Number("mdev"), AllanDeviation.Modified(y, m));
            Near(row.Number("hdev"), AllanDeviation.Hadamard(y, m));
            Near(row.Number("ohdev"), AllanDeviation.OverlappingHadamard(y, m));
        }
    }

    [Fact]
    public void The_stream_gives_what_the_batch_gives_at_every_octave() =>
        Gen.Select(Gen.Double[-10, 10].Array[0, 400], Gen.Double[-1e6, 1e6]).Sample((values, offset) =>
        {
            var streaming = new StreamingAllan(7);
            double[] x = [.. values.Select(v => v + offset)];
            foreach (double value in x)
            {
                streaming.Add(value);
            }

            for (int octave = 0; octave < streaming.Octaves; octave++)
            {
                Answer<double> batch = AllanDeviation.Overlapping(x, 1 << octave);
                Assert.Equal(batch.Missing, streaming.At(octave).Missing);
                Assert.Equal(batch.IsKnown ? batch.Value : 0, streaming.At(octave).IsKnown ? streaming.At(octave).Value : 0, 1e-8);
            }
        });

    [Fact]
    public void A_straight_drift_shows_in_the_allan_and_not_in_the_hadamard_deviation()
    {
        // ADEV of y = c·t is c·τ/√2 (NIST SP 1065, section 5.2.2).
        double[] x = [.. Enumerable.Range(0, 500).Select(i => 0.25 * i)];
        Assert.Equal(0.25 * 20 / Math.Sqrt(2), AllanDeviation.Overlapping(x, 20).Value, 1e-10);
        Assert.Equal(0, AllanDeviation.OverlappingHadamard(x, 20).Value, 1e-10);
    }

    [Fact]
    public void A_constant_series_has_no_deviation() =>
        Assert.Equal(0, AllanDeviation.Overlapping([.. Enumerable.Repeat(1e9 + 0.1, 40)], 4).Value);

    [Fact]
    public void A_huge_offset_costs_only_the_digits_that_the_values_lost()
    {
        double[] x = [.. Series.Lehmer(1000).Select(v => 1e9 + (1e-3 * v))];
        double[] exact = [.. x.Select(v => v - 1e9)];
        Assert.Equal(AllanDeviation.Overlapping(exact, 8).Value, AllanDeviation.Overlapping(x, 8).Value, 1e-14);
    }

    [Fact]
    public void One_point_and_nothing_but_faults_are_not_enough()
    {
        Assert.Equal(new Shortfall("points", 1, 2), AllanDeviation.Plain([1], 1).Missing);
        Assert.Equal(new Shortfall("points", 0, 2), AllanDeviation.Overlapping([], 1).Missing);
        Assert.Equal(new Shortfall("points", 5, 6), AllanDeviation.Overlapping([1, 2, 3, 4, 5], 3).Missing);
        Assert.Equal(new Shortfall("points", 6, 8), AllanDeviation.Modified([1, 2, 3, 4, 5, 6], 3).Missing);
        Assert.Equal(new Shortfall("points", 5, 6), AllanDeviation.Hadamard([1, 2, 3, 4, 5], 2).Missing);
        Assert.False(AllanDeviation.Time([], 1).IsKnown);
    }

    [Fact]
    public void Mistakes_of_the_programmer_name_their_argument()
    {
        double[] values = [1, double.NaN, 2, 3];
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => AllanDeviation.Plain(values, 1)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => AllanPoints.Octaves(values, 1)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => WhiteOrRed.Classify(values, 1)).ParamName);
        Assert.Equal("values", Assert.Throws<ArgumentException>(() => NoiseIdentification.Of(values, 1)).ParamName);
        Assert.Equal("m", Assert.Throws<ArgumentOutOfRangeException>(() => AllanDeviation.Modified([1, 2], 0)).ParamName);
        Assert.Equal("sampleSeconds", Assert.Throws<ArgumentOutOfRangeException>(() => WhiteOrRed.Classify([1, 2], 0)).ParamName);
        Assert.Equal("confidence", Assert.Throws<ArgumentOutOfRangeException>(() => AllanPoints.Octaves([1, 2], 1, 1)).ParamName);
        Assert.Equal("level", Assert.Throws<ArgumentOutOfRangeException>(() => WhiteOrRed.Classify([1, 2], 1, 0)).ParamName);
        Assert.Equal("octaves", Assert.Throws<ArgumentOutOfRangeException>(() => new StreamingAllan(0)).ParamName);
        Assert.Equal("value", Assert.Throws<ArgumentException>(() => new StreamingAllan(3).Add(double.NaN)).ParamName);
    }

    private static string Seven(Answer<double> deviation)
    {
        string[] parts = deviation.Value.ToString("0.000000e+00").Split('e');
        return $"{parts[0]}e{parts[1]}";
    }

    private static void Near(double expected, Answer<double> actual) => Assert.Equal(expected, actual.Value, 1e-11 * expected);
}
