using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;
using Xunit;

namespace DriftWatch.Tests.Configuration;

public class DefaultDelaysTests
{
    [Fact]
    public void Every_role_and_quantity_with_a_default_limit_says_once_where_its_deadband_and_delay_come_from()
    {
        IEnumerable<string> roles = DefaultLimits.Table.Select(r => Slugs.Of(r.Role)).Distinct();
        IEnumerable<string> quantities = DefaultQuantities.Table.Where(r => r.Limits.Count > 0).Select(r => Slugs.Of(r.Kind)).Distinct();
        Assert.Equal(roles.Concat(quantities).Order(), DefaultDelays.Table.SelectMany(r => r.Subjects).Order());
        Assert.All(DefaultDelays.Table, r => Assert.NotEmpty(r.Source));
    }

    /// <summary>What the table says of the air is what the limits have.</summary>
    [Fact]
    public void An_alarm_of_the_bearing_s_air_waits_a_second_at_most()
    {
        Assert.All(
            DefaultLimits.Table.Where(r => r.Role == ChannelRole.RegulatedAir && r.Severity == Severity.Alarm),
            r => Assert.InRange(r.OnDelaySeconds, 0, 1));
        Assert.All(DefaultLimits.Table.Where(r => r.Role == ChannelRole.DewPoint), r => Assert.Equal((60, 1), (r.OnDelaySeconds, r.Deadband)));
    }
}
