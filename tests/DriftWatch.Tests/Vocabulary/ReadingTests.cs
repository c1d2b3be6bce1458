using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Vocabulary;

public class ReadingTests
{
    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    [InlineData(double.NegativeInfinity)]
    public void What_is_no_number_is_never_a_value(double value)
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => Reading.Of(value));
        Assert.Throws<ArgumentOutOfRangeException>(() => new Frame(1, 0, [value]));
    }

    [Fact]
    public void A_forgotten_reading_is_missing_and_not_zero()
    {
        Reading forgotten = default;
        Assert.True(forgotten.IsFault);
        Assert.Equal(FaultCode.Missing, forgotten.Fault);
        Assert.Throws<InvalidOperationException>(() => forgotten.Raw);
    }

    [Theory]
    [InlineData(1, 2, 3)]
    [InlineData(3, 1, 2)]
    public void Extremes_that_do_not_enclose_their_value_are_refused(double raw, double minimum, double maximum) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => Reading.Of(raw, minimum, maximum));

    [Theory]
    [InlineData(-0.1)]
    [InlineData(360)]
    [InlineData(double.NaN)]
    public void A_wheel_turns_from_0_up_to_360_degrees(double angle) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new Frame(1, angle, [1]));

    [Fact]
    public void Every_fault_has_a_slug_that_reads_back()
    {
        foreach (FaultCode code in Enum.GetValues<FaultCode>())
        {
            Assert.True(FaultCodes.TryParse(code.ToSlug(), out FaultCode back));
            Assert.Equal(code, back);
        }
    }

    [Fact]
    public void Numbers_of_faults_are_stored_and_never_change() =>
        Assert.Equal(
            "0 missing, 1 no-answer, 2 line-down, 3 bad-checksum, 4 garbled, 5 instrument-error, 6 not-a-number, 7 over-range, "
            + "8 under-range, 9 open-loop, 10 loop-high, 11 implausible-jump, 12 stuck, 13 supply-lost",
            string.Join(", ", Enum.GetValues<FaultCode>().Select(c => $"{(int)c} {c.ToSlug()}")));

    [Fact]
    public void The_even_axis_has_its_points_in_the_middle_of_equal_parts()
    {
        FrameAxis axis = FrameAxis.Even(16);
        Assert.Equal((64, 1, 4), (axis.Count, axis.Heads[0], axis.Heads[63]));
        Assert.Equal((-42.1875, 42.1875), (axis.AnglesDegrees[0], axis.AnglesDegrees[15]));
    }

    [Fact]
    public void A_finding_line_reads_back_to_the_same_bytes()
    {
        var line = new FindingLine
        {
            Id = "b.k.c.7", Phase = FindingPhase.Updated, Input = 7, Bench = "b", BenchHash = "ab", Kind = "k", Channel = null,
            Severity = Severity.Alarm, Start = new EngineTime(-5), End = null, RaisedAt = new EngineTime(9), StartUtc = 1_000_000,
            RaisedUtc = 2_000_000, Value = -0.1, Limit = 1e300, Unit = "psi", Cause = "unknown", State = MachineState.TapeOnGuide,
            Text = "µ − \"quoted\"\n", Details = [new FindingDetail("depthPsi", 0.1), new FindingDetail("why", null, "word"), new FindingDetail("none", null)],
        };
        byte[] once = FindingJson.ToUtf8(line);
        Assert.Equal(once, FindingJson.ToUtf8(FindingJson.Read(once)));
        Assert.DoesNotContain((byte)'\n', once);
    }
}
