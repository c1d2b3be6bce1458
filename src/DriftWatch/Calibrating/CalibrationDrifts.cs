using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Calibrating;

/// <summary>What a channel moved by from the calibration that was in force to the new one.</summary>
internal static class CalibrationDrifts
{
    private const double DaysInAYear = 365.25;
    private const double NanosecondsInADay = 86_400e9;

    /// <param name="inForce">The one before.</param>
    /// <param name="last">Its document; null where it has none.</param>
    /// <param name="curve">The new one, the reference's uncertainty left out.</param>
    /// <param name="reference">Of the new one.</param>
    /// <param name="now">UTC nanoseconds of the new one.</param>
    public static DriftFacts Since(Calibration inForce, CalibrationDocument? last, CalibrationCurve curve, ReferenceFacts reference, long now)
    {
        CalibrationCurve newer = curve.WithCommonUncertainty(reference.StandardUncertainty);
        double? days = inForce.EnteredUtcNanoseconds is { } then ? (now - then) / NanosecondsInADay : null;
        double? years = days >= 1 ? days / DaysInAYear : null;
        string? since = inForce.EnteredUtcNanoseconds is { } entered ? UtcText.FromNanoseconds(entered) : null;
        double[] at = [curve.Least, (curve.Least + curve.Greatest) / 2, curve.Greatest];
        if (last is not null && CalibrationMaker.CurveOf(last) is { IsKnown: true } known)
        {
            bool same = reference.Serial is not null && reference.Serial == last.Reference.Serial && reference.Name == last.Reference.Name;
            double shared = same ? Math.Min(reference.StandardUncertainty, last.Reference.StandardUncertainty) : 0;
            CalibrationCurve older = known.Value.WithCommonUncertainty(last.Reference.StandardUncertainty);
            return new DriftFacts(
                inForce.Version, since, days,
                same ? "uncertainty of both curves; both were made against this reference, whose own error cancels" : "uncertainty of both curves and of both references",
                [.. at.Select(x => Facts(CalibrationDrift.Between(older, newer, years ?? 1, x, shared), newer, years is not null))]);
        }

        // What the earlier calibration was good for is not known: what is unsure here is the new curve alone.
        return new DriftFacts(
            inForce.Version, since, days, "uncertainty of the new curve and its reference; that of the calibration before it is not known",
            [
                .. at.Select(x =>
                {
                    Uncertain there = newer.At(x);
                    var difference = new Uncertain(there.Value - inForce.Convert(x), there.StandardUncertainty, there.Freedom);
                    return new DriftPoint(
                        x, there.Value, difference.Value, difference.StandardUncertainty, years is { } y ? difference.Value / y : null, difference.IsSignificant());
                }),
            ]);
    }

    private static DriftPoint Facts(DriftAt drift, CalibrationCurve newer, bool isPerYear) => new(
        drift.At, newer.At(drift.At).Value, drift.Difference.Value, drift.Difference.StandardUncertainty, isPerYear ? drift.PerYear.Value : null, drift.IsSignificant);
}
