using System.Diagnostics.CodeAnalysis;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api.Spans;

/// <summary>A span of a bench that was asked for, checked; every wrong parameter is answered with its name and what to write.</summary>
/// <param name="View">The bench.</param>
/// <param name="FromUtc">Begin, nanoseconds since 1970.</param>
/// <param name="ToUtc">End, not in it, after the begin.</param>
/// <param name="Channels">Series channels, each once, in the order asked for or of the bench.</param>
internal sealed record SpanRequest(IBenchView View, long FromUtc, long ToUtc, IReadOnlyList<ChannelDefinition> Channels)
{
    /// <summary>As long as anything is kept here, and short enough for an hour's rollups to be read in one go.</summary>
    private const long LongestYears = 20;

    private const long NanosecondsPerSecond = EngineTime.NanosecondsPerSecond;
    private const long Longest = LongestYears * 366 * 86_400 * NanosecondsPerSecond;
    private const long DefaultLength = 12 * 3600 * NanosecondsPerSecond;

    /// <summary>Derived quantities that go into a file with the channels.</summary>
    public IReadOnlyList<QuantityDefinition> Quantities { get; init; } = [];

    /// <summary>Where the span begins that this one is held against; as long as it. Null: none.</summary>
    public long? CompareUtc { get; init; }

    /// <summary>Whether a picture has the baseline, and the limits that refer to it.</summary>
    public bool WithBaselines { get; init; }

    /// <summary>The span that this one is held against.</summary>
    public SpanRequest? Compared => CompareUtc is { } begin ? this with { FromUtc = begin, ToUtc = begin + (ToUtc - FromUtc), CompareUtc = null } : null;

    public EngineTime From => View.FromUtcNanoseconds(FromUtc);

    public EngineTime To => View.FromUtcNanoseconds(ToUtc);

    public double Seconds => (ToUtc - FromUtc) / 1e9;

    /// <summary>The span's columns; its engine times may coincide where the clock was set.</summary>
    public SpanGrid Grid(int columns, TimeSpan least = default) =>
        SpanGrid.Over(From, To > From ? To : From + TimeSpan.FromMilliseconds(1), columns, least);

    public static bool TryRead(
        HostedBenches benches, string benchId, string? from, string? to, string? channels,
        [NotNullWhen(true)] out SpanRequest? request, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        request = null;
        if (!benches.TryGet(benchId, out HostedBench? hosted))
        {
            problem = Problems.NoBench(benchId);
            return false;
        }

        IBenchView view = hosted.View;
        if (!Parameters.TryInstant(to, "to", view.ToUtcNanoseconds(view.Now), out long toUtc, out problem)
            || !Parameters.TryInstant(from, "from", toUtc - DefaultLength, out long fromUtc, out problem)
            || !TryChannels(view, channels, out IReadOnlyList<ChannelDefinition>? chosen, out problem))
        {
            return false;
        }

        if (fromUtc >= toUtc)
        {
            problem = Problems.BadParameter(
                "from", $"The span begins at {UtcText.FromNanoseconds(fromUtc)} but ends at {UtcText.FromNanoseconds(toUtc)}.",
                "Give a 'from' that lies before 'to'.");
            return false;
        }

        if (toUtc - fromUtc > Longest)
        {
            problem = Problems.BadParameter(
                "from", $"The span is longer than {LongestYears} years.", $"Give a 'from' at most {LongestYears} years before 'to'.");
            return false;
        }

        request = new SpanRequest(view, fromUtc, toUtc, chosen);
        return true;
    }

    /// <summary>One series channel by its id or an alias.</summary>
    public static bool TryChannel(
        IBenchView view, string? id, string name, [NotNullWhen(true)] out ChannelDefinition? channel, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        problem = null;
        channel = view.Bench.Channels.FirstOrDefault(c => c.Id == id)
            ?? view.Bench.Channels.FirstOrDefault(c => id is not null && c.Aliases.Contains(id, StringComparer.Ordinal));
        if (channel is { Kind: ChannelKind.Series })
        {
            return true;
        }

        string remedy = $"Use ids of series from GET /api/v1/benches/{view.Bench.Id}, several with commas between, such as {name}={Example(view)}.";
        problem = channel is null
            ? Problems.BadParameter(name, string.IsNullOrEmpty(id) ? "No channel is named." : $"Bench '{view.Bench.Id}' has no channel '{id}'.", remedy)
            : Problems.BadParameter(name, $"Channel '{channel.Id}' is a frame channel and has no line over time.", remedy);
        channel = null;
        return false;
    }

    private static bool TryChannels(
        IBenchView view, string? ids, [NotNullWhen(true)] out IReadOnlyList<ChannelDefinition>? channels, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        problem = null;
        channels = [.. view.Bench.Channels.Where(c => c.Kind == ChannelKind.Series)];
        if (string.IsNullOrEmpty(ids))
        {
            return true;
        }

        var chosen = new List<ChannelDefinition>();
        foreach (string id in ids.Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries))
        {
            if (!TryChannel(view, id, "channels", out ChannelDefinition? channel, out problem))
            {
                channels = null;
                return false;
            }

            if (!chosen.Contains(channel))
            {
                chosen.Add(channel);
            }
        }

        channels = chosen;
        return true;
    }

    private static string Example(IBenchView view) => view.Bench.Channels.FirstOrDefault(c => c.Kind == ChannelKind.Series)?.Id ?? "regulated-air";
}
