using System.Globalization;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;

namespace DriftWatch.Measuring;

/// <summary>The drop between air at rest and air under flow, and whether it has grown.</summary>
internal static class FilterAid
{
    public static NumberField AtRest { get; } = new("at-rest", 0, 1000);

    public static NumberField UnderFlow { get; } = new("under-flow", 0, 1000);

    public static NumberField DropBefore { get; } = new("drop-before", 0.001, 1000);

    public static NumberField GaugeError { get; } = new("gauge-error", 0, 50, 0.1);

    /// <param name="restPsi">With the air up and nothing drawn.</param>
    /// <param name="flowPsi">While wheel and venturi draw.</param>
    /// <param name="beforePsi">The drop of before at the same flow, where it is known.</param>
    /// <param name="errorPsi">Standard uncertainty of one reading.</param>
    public static MeasureReport Of(double restPsi, double flowPsi, double? beforePsi, double errorPsi)
    {
        Uncertain? then = beforePsi is { } drop ? new Uncertain(drop, Math.Sqrt(2) * errorPsi) : null;
        FilterDropAnswer answer = FilterDrop.Of(new Uncertain(restPsi, errorPsi), new Uncertain(flowPsi, errorPsi), then);
        string verdict = answer.GrowthShare is { } growth
            ? Text($"Against {then!.Value.Value:0.00} psi before: {growth.Value:0.00} ± {growth.Expanded():0.00} times. ")
                + (answer.IsClogging ? "It has grown: change the filter's element." : Text($"No growth that can be claimed (it takes more than {FilterDrop.LeastGrowthShare:0.00} times, beyond doubt)."))
            : "Keep this number: only growth at the same flow is a sign of clogging.";
        return new MeasureReport(
            [],
            [ReportPart.Text(Text($"Drop under flow: {answer.DropPsi.Value:0.00} ± {answer.DropPsi.Expanded():0.00} psi, the regulator's own droop in it."), verdict)],
            IsSound: true)
        {
            Headline = verdict,
            Caution = Cautions.Air,
            Quantities =
            [
                Quantity.Of("drop", answer.DropPsi, "psi"),
                .. answer.GrowthShare is { } share ? [Quantity.Of("growth", share, "1")] : Array.Empty<Quantity>(),
            ],
        };
    }

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
