using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using Xunit;

namespace DriftWatch.Tests.Running;

/// <summary>Silence must not look like health: when no sign of life may be given.</summary>
public sealed class SignsOfLifeTests
{
    [Theory]
    [InlineData(100, 99.9, 10, false)]
    [InlineData(105, 100, 10, false)]
    [InlineData(105.1, 100, 10, true)]
    [InlineData(14, 0, 10, false)] // nothing judged yet, and watching has only begun
    [InlineData(16, 0, 10, true)]
    public void Judging_that_stands_still_for_five_seconds_gives_none(double now, double judged, double started, bool isSilent)
    {
        string? why = SignsOfLife.WhyNotJudging("west", EngineTime.FromSeconds(now), EngineTime.FromSeconds(judged), EngineTime.FromSeconds(started));
        Assert.Equal(isSilent, why is not null);
        if (why is not null)
        {
            Assert.Matches("^bench west has judged nothing for [56] s$", why);
        }
    }

    [Fact]
    public void A_store_that_takes_nothing_gives_none()
    {
        Assert.Null(SignsOfLife.WhyNotStoring("west", null));
        Assert.Equal("the store of bench west takes nothing: disk full", SignsOfLife.WhyNotStoring("west", "disk full"));
    }
}
