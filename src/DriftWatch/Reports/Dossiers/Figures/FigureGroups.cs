using DriftWatch.Measurement.Channels;

namespace DriftWatch.Reports.Dossiers.Figures;

/// <param name="Title">With the unit.</param>
/// <param name="Lines">Of one unit.</param>
internal sealed record FigurePanel(string Title, IReadOnlyList<ChannelSummary> Lines);

/// <param name="Name">Of the figure.</param>
/// <param name="Panels">At least one.</param>
internal sealed record FigureGroup(string Name, IReadOnlyList<FigurePanel> Panels);

/// <summary>Which channels and quantities stand together in which figure: by what they mean, since every bench calls its own as it likes.</summary>
internal static class FigureGroups
{
    private static readonly string[] Names = ["Air", "Vacuum", "Heads", "Geometry", "Levels"];

    /// <summary>Groups of which the bench has something, in the order in which the machine depends on them.</summary>
    public static IReadOnlyList<FigureGroup> Of(Dossier dossier)
    {
        List<ChannelSummary> drawn = [.. dossier.Channels.Where(c => c.Trace.Count > 0)];
        FigureGroup?[] groups =
        [
            Group("Air",
                Role("Supply air", ChannelRole.SupplyAir),
                Role("Regulated air at the bearing", ChannelRole.RegulatedAir),
                Role("Pressure dew point", ChannelRole.DewPoint)),
            Group("Vacuum",
                Role("Guide vacuum", ChannelRole.GuideVacuum),
                Quantity("Guide vacuum at the setpoint of the air", QuantityKind.NormalisedVacuum)),
            Group("Heads",
                Role("RF level of the heads", ChannelRole.RfLevel),
                Quantity("Each head against the others", QuantityKind.RfDifference),
                Role("Control track", ChannelRole.ControlTrack)),
            Group("Geometry",
                Quantity("Skew: guide in or out", QuantityKind.Skew),
                Quantity("Scallop: guide height", QuantityKind.Scallop),
                Quantity("Each head late against the mean", QuantityKind.HeadStep),
                Role("Corrector range in use", ChannelRole.CorrectorUse)),
            Group("Levels",
                Role("Sync", ChannelRole.SyncLevel),
                Role("Video", ChannelRole.VideoLevel),
                Role("Audio", ChannelRole.AudioLevel)),
        ];
        return [.. groups.OfType<FigureGroup>()];

        FigurePanel? Role(string title, ChannelRole role) => Panel(title, c => !c.IsDerived && c.Channel.Role == role);

        FigurePanel? Quantity(string title, QuantityKind kind) =>
            Panel(title, c => c.IsDerived && dossier.Bench.Quantities.Any(q => q.Kind == kind && q.Id == c.Channel.Id));

        FigurePanel? Panel(string title, Func<ChannelSummary, bool> belongs) =>
            drawn.Where(belongs).ToList() is { Count: > 0 } lines
                ? new FigurePanel($"{title}, {NumberText.Unit(lines[0].Channel.Unit)}", [.. lines.Where(l => l.Channel.Unit == lines[0].Channel.Unit)])
                : null;
    }

    /// <summary>Names of groups for which the bench has no channel at all: that is said, not passed over.</summary>
    public static IEnumerable<string> Missing(IReadOnlyList<FigureGroup> groups) =>
        Names.Where(n => groups.All(g => g.Name != n));

    private static FigureGroup? Group(string name, params IEnumerable<FigurePanel?> panels) =>
        panels.OfType<FigurePanel>().ToList() is { Count: > 0 } some ? new FigureGroup(name, some) : null;
}
