using System.Text.Json;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>What was said once: a finding from its first line to its last. Seconds of the night.</summary>
internal sealed record NightFinding
{
    public required string Kind { get; init; }

    public string? Channel { get; init; }

    public ChannelRole? Role { get; init; }

    /// <summary>The worst it ever was.</summary>
    public required Severity Severity { get; init; }

    public required double RaisedSeconds { get; init; }

    /// <summary>When it was first of advisory severity or worse; null if never.</summary>
    public double? AdvisedSeconds { get; init; }

    public double? EndedSeconds { get; init; }

    /// <summary>The cause it was raised with.</summary>
    public required string Cause { get; init; }

    /// <summary>Stated when it was raised, 0 to 1; null where the kind states none.</summary>
    public double? Confidence { get; init; }

    public required string Text { get; init; }

    /// <summary>A cause, a drift, or something that a person must look at.</summary>
    public bool Counts => AdvisedSeconds is not null || IsCause || Kind == NightKinds.Drift;

    public bool IsCause => Kind == NightKinds.Cause;

    public double CountsFromSeconds => IsCause || Kind == NightKinds.Drift ? RaisedSeconds : AdvisedSeconds ?? RaisedSeconds;
}

/// <summary>Kinds that the score knows by name; an engine that has none of them scores without.</summary>
internal static class NightKinds
{
    public const string Cause = "cause";
    public const string Drift = "drift";
}

/// <summary>One judged night: its truth and what was found. A line of a results file.</summary>
internal sealed record NightResult
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web);

    public required ulong Seed { get; init; }

    /// <summary>The judging build and the rig's; results of another one are not counted.</summary>
    public required string Build { get; init; }

    public required string Cause { get; init; }

    public NightPace Pace { get; init; }

    public double LengthSeconds { get; init; }

    public double? OnsetSeconds { get; init; }

    public double? VisibleSeconds { get; init; }

    public double? FortyPercentSeconds { get; init; }

    public double? EndSeconds { get; init; }

    public double SizeInTolerances { get; init; }

    public double RampSeconds { get; init; }

    public double OwnDelaySeconds { get; init; }

    public string? Detail { get; init; }

    /// <summary>When someone stopped the tape.</summary>
    public IReadOnlyList<double> StopSeconds { get; init; } = [];

    /// <summary>What playing and judging it took.</summary>
    public double TookSeconds { get; init; }

    public required IReadOnlyList<NightFinding> Findings { get; init; }

    /// <summary>Changes with any change of rig, night, or judgement (and of nothing else where builds are deterministic).</summary>
    public static string ThisBuild { get; } = string.Join(
        '.', ((Type[])[typeof(WatchEngine), typeof(RigSimulation), typeof(Analysis.Shortfall), typeof(NightPlan)])
            .Select(type => type.Module.ModuleVersionId.ToString("N")[..6]));

    public static NightResult Of(NightPlan plan, IReadOnlyList<NightLine> lines, double tookSeconds) => new()
    {
        Seed = plan.Seed,
        Build = ThisBuild,
        Cause = plan.Cause,
        Pace = plan.Pace,
        LengthSeconds = plan.LengthSeconds,
        OnsetSeconds = plan.OnsetSeconds,
        VisibleSeconds = plan.VisibleSeconds,
        FortyPercentSeconds = plan.FortyPercentSeconds,
        EndSeconds = plan.EndSeconds,
        SizeInTolerances = plan.SizeInTolerances,
        RampSeconds = plan.RampSeconds,
        OwnDelaySeconds = plan.OwnDelaySeconds,
        Detail = plan.Detail,
        StopSeconds = plan.StopSeconds,
        TookSeconds = tookSeconds,
        Findings = [.. lines.GroupBy(line => line.Line.Id).Select(group => Finding([.. group])).Where(finding => finding.Counts)],
    };

    public string ToLine() => JsonSerializer.Serialize(this, Json);

    public static NightResult FromLine(string line) =>
        JsonSerializer.Deserialize<NightResult>(line, Json) ?? throw new InvalidDataException("An empty line in a results file.");

    /// <summary>A finding may name a quantity that judgement works out; by the words of its name it belongs to a channel's role.</summary>
    private static ChannelRole? RoleOfQuantity(string? name) => name switch
    {
        null => null,
        _ when name.Contains("rf", StringComparison.Ordinal) => ChannelRole.RfLevel,
        _ when name.Contains("vacuum", StringComparison.Ordinal) => ChannelRole.GuideVacuum,
        _ when name.Contains("duty", StringComparison.Ordinal) || name.Contains("supply", StringComparison.Ordinal) || name.Contains("headroom", StringComparison.Ordinal) => ChannelRole.SupplyAir,
        _ when name.Contains("regulat", StringComparison.Ordinal) => ChannelRole.RegulatedAir,
        _ when name.Contains("skew", StringComparison.Ordinal) || name.Contains("scallop", StringComparison.Ordinal) || name.Contains("step", StringComparison.Ordinal) || name.Contains("residual", StringComparison.Ordinal) => ChannelRole.TimingError,
        _ => null,
    };

    private static NightFinding Finding(IReadOnlyList<NightLine> lines)
    {
        FindingLine first = lines[0].Line;
        IEnumerable<NightLine> advised = lines.Where(line => line.Line.Severity >= Severity.Advisory);
        FindingDetail confidence = first.Details.FirstOrDefault(detail => detail.Name == "confidence");
        return new NightFinding
        {
            Kind = first.Kind,
            Channel = first.Channel,
            Role = NightRun.Bench.Channels.FirstOrDefault(channel => channel.Id == first.Channel)?.Role ?? RoleOfQuantity(first.Channel),
            Severity = lines.Max(line => line.Line.Severity),
            RaisedSeconds = lines[0].Seconds,
            AdvisedSeconds = advised.Any() ? advised.First().Seconds : null,
            EndedSeconds = lines[^1].Line.Phase == FindingPhase.Ended ? lines[^1].Seconds : null,
            Cause = first.Cause,
            Confidence = confidence.Number,
            Text = first.Text,
        };
    }
}
