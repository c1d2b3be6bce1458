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
        Assert.All(DefaultLimits.Table.Where(r => r.Role == ChannelRole.SupplyAir), r => Assert.Equal(2, r.Deadband)); // 2 % of 100 psi
        Assert.All(DefaultLimits.Table.Where(r => r.Role == ChannelRole.DewPoint), r => Assert.Equal((60, 1), (r.OnDelaySeconds, r.Deadband)));
    }

    /// <summary>What is said of a bench file: a default limit keeps its source in any unit; of one that is written, and of one whose delay is, the bench file is.</summary>
    [Fact]
    public void A_limit_says_where_its_delay_and_deadband_come_from()
    {
        BenchFileResult result = BenchText.Load(BenchText.Head + """
            [[channel]]
            id = "dew"
            role = "dew-point"
            unit = "degF"
            instrument = "board"
            input = "a0"
            calibration = { points = [[0.5, -100.0], [4.5, 100.0]] }
            [[channel.limit]]
            side = "high"
            severity = "alarm"
            value = 40.0
            on-delay = "60 s"
            """);
        Assert.Empty(result.Mistakes);
        IReadOnlyList<LimitDefinition> limits = result.Bench!.Definition.Channels.Single().Limits;
        LimitDefinition advisory = Assert.Single(limits, l => l.Severity == Severity.Advisory);
        Assert.Equal("delay of a temperature, 60 s, and 1 % of a range of 100 °C; from memory (ANSI/ISA-18.2)", DefaultDelays.Of("dew-point", advisory)!.Said);
        Assert.Null(DefaultDelays.Of("dew-point", Assert.Single(limits, l => l.Severity == Severity.Alarm)));
        Assert.Null(DefaultDelays.Of("dew-point", advisory with { OnDelay = TimeSpan.FromSeconds(59) }));
        Assert.Null(DefaultDelays.Of("dew-point", advisory with { OffDelay = TimeSpan.FromSeconds(1) }));
    }

    /// <summary>None of the defaults may pass for one that somebody wrote.</summary>
    [Fact]
    public void Each_default_limit_of_the_practice_bench_is_known_as_one()
    {
        LoadedBench bench = BenchFile.Load(Path.Combine(ProfileFolders.Default[0], "practice-rig", "bench.toml"), ProfileFolders.Default).Bench!;
        (string Subject, LimitDefinition Limit)[] limits =
        [
            .. bench.Definition.Channels.SelectMany(c => c.Limits.Select(l => (Slugs.Of(c.Role), l))),
            .. bench.Definition.Quantities.SelectMany(q => q.Limits.Select(l => (Slugs.Of(q.Kind), l))),
        ];
        Assert.NotEmpty(limits);
        Assert.All(limits, l => Assert.NotNull(DefaultDelays.Of(l.Subject, l.Limit)));
    }
}
