using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Measurement.Units;
using DriftWatch.Running;

namespace DriftWatch.Transfers;

/// <summary>What reads a step of the line-up on a bench, and what it reads now: a channel, or a quantity worked out of channels.</summary>
/// <param name="By">Its id; null where a person reads the step off.</param>
/// <param name="Label">Its name for people.</param>
/// <param name="Value">In the step's unit; null where it can't be told now.</param>
/// <param name="AtUtc">When it was read, nanoseconds since 1970.</param>
/// <param name="Why">Why there is no value, part of a sentence; null where there is one, or nothing to read it.</param>
internal sealed record PresentReading(string? By, string? Label, double? Value, long? AtUtc, string? Why)
{
    /// <summary>A quantity is told each second of judged time; older is of a judgement that stands. Source: common practice, no source, as long as a channel's stale advisory.</summary>
    private static readonly TimeSpan QuantitySilent = TimeSpan.FromSeconds(6);

    private static readonly PresentReading ByHand = new(null, null, null, null, null);

    /// <param name="view">The bench as it is now.</param>
    /// <param name="step">Of its line-up.</param>
    /// <param name="by">Which of the step's readers; null: the first that the bench has.</param>
    public static PresentReading Of(IBenchView view, LineUpStepDefinition step, string? by = null)
    {
        foreach (string id in by is null ? step.Reads : [by])
        {
            if (view.Channels.FirstOrDefault(c => c.Channel.Id == id) is { Channel.Kind: ChannelKind.Series } channel)
            {
                return OfChannel(view, step, channel);
            }

            if (view.Bench.Quantities.FirstOrDefault(q => q.Id == id) is { } quantity)
            {
                return OfQuantity(view, step, quantity);
            }
        }

        return by is null ? ByHand : ByHand with { By = by, Why = "this bench has no such channel or quantity" };
    }

    private static PresentReading OfChannel(IBenchView view, LineUpStepDefinition step, ChannelNow now)
    {
        ChannelDefinition channel = now.Channel;
        string? why = now.Fault is { } fault ? $"its newest reading is a fault, {Slugs.Of(fault)}"
            : now.Value is null ? "it has not read yet"
            : now.Age > channel.StaleAdvisory ? FormattableString.Invariant($"it has not read for {now.Age.Value.TotalSeconds:0} s")
            : null;
        return Of(view, step, channel.Id, channel.Label, channel.Unit, now.Value, now.At, why);
    }

    private static PresentReading OfQuantity(IBenchView view, LineUpStepDefinition step, QuantityDefinition quantity)
    {
        QuantityTable table = view.Quantities;
        double? value = table.Items.FirstOrDefault(q => q.Id == quantity.Id).Value;
        string? why = table.At is not { } at || view.Now - at > QuantitySilent ? "it has not been worked out for some seconds"
            : value is null ? "its channels are silent, or it means nothing in this state of the machine"
            : null;
        return Of(view, step, quantity.Id, quantity.Label, quantity.Unit, value, table.At, why);
    }

    private static PresentReading Of(IBenchView view, LineUpStepDefinition step, string id, string label, string unit, double? value, EngineTime? at, string? why)
    {
        var own = Unit.Parse(unit);
        Unit asked = step.Unit is { } symbol && Unit.TryParse(symbol, out Unit known) ? known : own;
        why ??= own.ConvertsTo(asked) ? null : $"it reads in {unit}, and the step asks for {step.Unit}";
        return new PresentReading(id, label, why is null ? own.Convert(value!.Value, asked) : null, at is { } read ? view.ToUtcNanoseconds(read) : null, why);
    }
}
