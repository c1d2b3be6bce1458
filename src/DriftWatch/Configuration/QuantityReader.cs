using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Configuration;

/// <summary>
/// The derived quantities of a bench: those its channels tell, each with its default limits unless a [[quantity]] of the
/// file says otherwise.
/// </summary>
internal static class QuantityReader
{
    public static List<QuantityDefinition> Read(IReadOnlyList<SectionReader> sections, List<ChannelSection> channels, MachineDefinition machine)
    {
        List<QuantityDefinition> quantities = DefaultQuantities.For([.. channels.Select(c => c.Definition)], machine);
        foreach (ChannelSection channel in channels.Where(c => quantities.Exists(q => q.Id == c.Definition.Id)))
        {
            channel.Section.Say("id", $"the id \"{channel.Definition.Id}\" is taken by what judgement works out from this bench's channels", "write another id");
        }

        var seen = new Dictionary<QuantityKind, int>();
        foreach (SectionReader section in sections)
        {
            if (section.Choice<QuantityKind>("kind") is not { } kind)
            {
                continue;
            }

            if (!seen.TryAdd(kind, section.LineOf("kind")))
            {
                section.Say("kind", $"quantity {Slugs.Of(kind)} stands already in line {seen[kind]}", "write its limits there");
                continue;
            }

            QuantityRow row = DefaultQuantities.Table.Single(r => r.Kind == kind);
            if (!quantities.Exists(q => q.Kind == kind))
            {
                section.Say("kind", $"this bench can't tell {Slugs.Of(kind)}: it needs {row.Needs}", row.NeedsReceiver && row.IsTold([.. channels.Select(c => c.Definition)]) ? "write receiver-litres under [machine], or drop this [[quantity]]" : "add those channels, or drop this [[quantity]]");
                continue;
            }

            for (int i = 0; i < quantities.Count; i++)
            {
                if (quantities[i].Kind == kind)
                {
                    bool isFirst = quantities.FindIndex(q => q.Kind == kind) == i;
                    quantities[i] = quantities[i] with { Limits = LimitsOf(section, quantities[i], isFirst) };
                }
            }
        }

        return quantities;
    }

    /// <summary>Limits are read, and mistakes said, once for all heads.</summary>
    private static IReadOnlyList<LimitDefinition> LimitsOf(SectionReader section, QuantityDefinition quantity, bool sayMistakes)
    {
        var like = new ChannelSection(section, new ChannelDefinition
        {
            Id = quantity.Id,
            Key = -1,
            Label = quantity.Label,
            Unit = quantity.Unit,
            RawUnit = quantity.Unit,
            Period = TimeSpan.FromMilliseconds(100),
            Calibration = LineCalibration.Identity,
        });
        return LimitReader.Read(like, quantity.Limits, sayMistakes);
    }
}
