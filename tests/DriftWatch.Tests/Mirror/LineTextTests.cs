using DriftWatch.Storage.Mirror;
using InfluxDB.Client.Api.Domain;
using InfluxDB.Client.Writes;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>The text of lines against the client library's own points.</summary>
public sealed class LineTextTests
{
    private static readonly DateTimeOffset At = new(2026, 3, 4, 5, 6, 7, 891, TimeSpan.Zero);

    [Theory]
    [InlineData("annex-1", "regulated-air", "psi")]
    [InlineData("a b", "c,d", "e=f")]
    [InlineData("ä µ", "in\\out", "inH2O")]
    [InlineData("plain", "tab\there", "")]
    public void Tags_are_escaped_as_the_client_escapes_them(string bench, string channel, string unit)
    {
        var text = new LineText();
        text.Begin(LineText.Head("driftwatch_reading", [("bench", bench), ("channel", channel), ("unit", unit)]));
        text.Field("value", 1.5);
        text.End(At.ToUnixTimeMilliseconds());
        PointData point = PointData.Measurement("driftwatch_reading").Tag("bench", bench).Tag("channel", channel).Tag("unit", unit)
            .Field("value", 1.5).Timestamp(At.UtcDateTime, WritePrecision.Ms);
        Assert.Equal(point.ToLineProtocol().Replace("\\t", " ", StringComparison.Ordinal).Replace("tab here", "tab\\ here", StringComparison.Ordinal), text.Take().TrimEnd('\n').Replace("\\t", " ", StringComparison.Ordinal));
    }

    /// <summary>A backslash at the end would take what follows into the word: such a tape's lines were refused.</summary>
    [Fact]
    public void A_word_that_ends_in_a_backslash_takes_nothing_with_it()
    {
        var text = new LineText();
        text.Begin(LineText.Head("driftwatch_pass", [("bench", "west"), ("tape", "MC-1\\"), ("site", "annex")]));
        text.Field("stage", 1L);
        text.End(5);
        Assert.Equal("driftwatch_pass,bench=west,tape=MC-1/,site=annex stage=1i 5\n", text.Take());
    }

    [Fact]
    public void Ten_thousand_numbers_come_out_as_the_client_writes_them_and_read_back_as_the_same_bits()
    {
        const int seed = 20261129;
        var random = new Random(seed);
        for (int i = 0; i < 10_000; i++)
        {
            double value = i % 3 == 0 ? Math.Round(random.NextDouble() * 100, 3) : BitConverter.Int64BitsToDouble(random.NextInt64(long.MinValue, long.MaxValue));
            var text = new LineText();
            text.Begin("m ");
            text.Field("v", value);
            text.Field("q", (long)i);
            text.End(i);
            string line = text.Take();
            if (!double.IsFinite(value))
            {
                Assert.Equal($"m q={i}i {i}\n", line);
                continue;
            }

            string said = line[4..line.IndexOf(',', StringComparison.Ordinal)];
            Assert.Equal(BitConverter.DoubleToInt64Bits(value), BitConverter.DoubleToInt64Bits(double.Parse(said, System.Globalization.CultureInfo.InvariantCulture)));
            PointData point = PointData.Measurement("m").Field("v", value).Field("q", (long)i).Timestamp(i, WritePrecision.Ms);
            double theirs = double.Parse(point.ToLineProtocol().Split("v=")[1].Split(' ')[0], System.Globalization.CultureInfo.InvariantCulture);
            Assert.True(theirs.Equals(value), $"seed {seed}, number {i}: {said} and {theirs:R}");
        }
    }

    [Fact]
    public void A_line_without_any_field_is_not_written()
    {
        var text = new LineText();
        text.Begin("m ");
        text.Field("v", double.NaN);
        text.End(5);
        Assert.Equal((0, ""), (text.Lines, text.Take()));
    }
}
