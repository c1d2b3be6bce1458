using System.Diagnostics.CodeAnalysis;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api.Spans;

/// <summary>
/// Derived quantities of a span on the columns that <see cref="SpanColumnsAnswer"/> has for its channels. They are not stored: they are worked
/// out from every reading, and told at every tick of judgement, so that least and greatest of a column miss nothing that was judged.
/// The walk begins two hours before the span, or goes on from one that was made before and knows more; what needs a longer past than that is empty at first. <c>Baselines</c>: those in force at the span's end.
/// </summary>
internal sealed record SpanQuantitiesAnswer(
    string Bench,
    string From,
    string To,
    string Now,
    double ColumnSeconds,
    int Count,
    IReadOnlyList<SpanStart> Starts,
    IReadOnlyList<ChannelColumnsAnswer> Channels,
    IReadOnlyList<QuantityBaselineAnswer> Baselines)
{
    /// <summary>As often as judgement has a look at them.</summary>
    public static readonly TimeSpan Tick = TimeSpan.FromMilliseconds(100);

    public static async Task<SpanQuantitiesAnswer> OfAsync(
        QuantityDesk desk, SpanRequest request, IReadOnlyList<QuantityDefinition> quantities, int columns, CancellationToken cancel)
    {
        IBenchView view = request.View;
        SpanGrid grid = request.Grid(columns, Tick);
        IReadOnlyList<IReadOnlyList<Bucket>> all = await desk.ColumnsAsync(view, quantities, grid, cancel);
        TakenBaseline? baseline = view.Baselines().LastOrDefault(b => b.UtcNanoseconds < request.ToUtc);
        return new SpanQuantitiesAnswer(
            view.Bench.Id,
            UtcText.FromNanoseconds(request.FromUtc),
            UtcText.FromNanoseconds(request.ToUtc),
            UtcText.FromNanoseconds(view.ToUtcNanoseconds(view.Now)),
            grid.Width / 1e9,
            grid.Count,
            SpanColumnsAnswer.StartsOf(grid, view),
            [.. quantities.Select((quantity, i) => ChannelColumnsAnswer.Of(quantity.AsChannel(Tick), grid, all[i]))],
            [
                .. quantities.Select(q => baseline?.Values.FirstOrDefault(v => v.Channel == q.Id && v.Unit == q.Unit))
                    .OfType<BaselineValue>().Select(v => new QuantityBaselineAnswer(v.Channel, v.Value)),
            ]);
    }

    /// <summary>Quantities of the bench by their ids with commas between; those of <paramref name="otherwise"/> where nothing is named.</summary>
    public static bool TryQuantities(
        IBenchView view, string? ids, IReadOnlyList<QuantityDefinition> otherwise,
        [NotNullWhen(true)] out IReadOnlyList<QuantityDefinition>? quantities, [NotNullWhen(false)] out ProblemHttpResult? problem)
    {
        problem = null;
        if (string.IsNullOrEmpty(ids))
        {
            quantities = otherwise;
            return true;
        }

        var chosen = new List<QuantityDefinition>();
        foreach (string id in ids.Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries))
        {
            if (view.Bench.Quantities.FirstOrDefault(q => q.Id == id) is not { } quantity)
            {
                problem = Problems.BadParameter(
                    "quantities", $"Bench '{view.Bench.Id}' has no derived quantity '{id}'.", $"GET /api/v1/benches/{view.Bench.Id} lists them under 'quantities'.");
                quantities = null;
                return false;
            }

            if (!chosen.Contains(quantity))
            {
                chosen.Add(quantity);
            }
        }

        quantities = chosen;
        return true;
    }
}

/// <summary>What a quantity's baseline is, in its unit.</summary>
internal sealed record QuantityBaselineAnswer(string Id, double Value);
