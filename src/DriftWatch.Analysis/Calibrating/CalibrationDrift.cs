namespace DriftWatch.Analysis.Calibrating;

/// <summary>What a calibration moved by at one point between two dates.</summary>
/// <param name="At">x of the point.</param>
/// <param name="Difference">Newer less older, in the unit of y.</param>
/// <param name="PerYear">The same over the years between.</param>
/// <param name="IsSignificant">The difference is beyond its expanded uncertainty, 95 % unless another confidence was asked for.</param>
public readonly record struct DriftAt(double At, Uncertain Difference, Uncertain PerYear, bool IsSignificant);

/// <summary>
/// Drift between two calibrations of one instrument: the difference of two curves, u² = u₁²+u₂² less what both had in common,
/// such as one reference standard, which moves both alike (JCGM 100:2008, 5.2.2, with the covariance u²(common)).
/// </summary>
public static class CalibrationDrift
{
    /// <param name="older">The earlier calibration.</param>
    /// <param name="newer">The later one, of the same quantities in the same units.</param>
    /// <param name="years">Between the two, above zero.</param>
    /// <param name="x">Where, in the unit of the points.</param>
    /// <param name="shared">The standard uncertainty, in the unit of y, of an error that both calibrations share; it must be part of both.</param>
    /// <param name="confidence">Above 0, below 1.</param>
    public static DriftAt Between(
        CalibrationCurve older, CalibrationCurve newer, double years, double x, double shared = 0, double confidence = 0.95)
    {
        if (!(years > 0 && double.IsFinite(years)))
        {
            throw new ArgumentOutOfRangeException(nameof(years), years, "The later calibration is after the earlier one.");
        }

        Uncertain before = older.At(x);
        Uncertain after = newer.At(x);
        if (!(shared >= 0 && shared <= before.StandardUncertainty && shared <= after.StandardUncertainty))
        {
            throw new ArgumentOutOfRangeException(nameof(shared), shared, "A shared uncertainty is part of both calibrations' own.");
        }

        Uncertain difference = Coverage.Combine(after.Value - before.Value, Own(before), Own(after));
        return new DriftAt(x, difference, difference.Over(years), difference.IsSignificant(confidence));

        (double, double) Own(Uncertain whole)
        {
            double own = Math.Sqrt((whole.StandardUncertainty * whole.StandardUncertainty) - (shared * shared));

            // What is shared is taken as known, so the rest carries all that is unsure about the whole (Welch-Satterthwaite undone).
            double freedom = double.IsInfinity(whole.Freedom) || own == 0
                ? double.PositiveInfinity
                : whole.Freedom * Math.Pow(own / whole.StandardUncertainty, 4);
            return (own, Math.Max(freedom, 1e-3));
        }
    }

    /// <summary>The point of the range calibrated both times where the difference is largest against its uncertainty, of 65 evenly spaced.</summary>
    /// <inheritdoc cref="Between"/>
    /// <returns>A shortfall where the two ranges do not meet.</returns>
    public static Answer<DriftAt> Worst(CalibrationCurve older, CalibrationCurve newer, double years, double shared = 0, double confidence = 0.95)
    {
        double low = Math.Max(older.Least, newer.Least);
        double high = Math.Min(older.Greatest, newer.Greatest);
        if (!(high > low))
        {
            return new Shortfall("ranges calibrated both times", 0, 1);
        }

        DriftAt worst = default;
        double most = double.NegativeInfinity;
        for (int i = 0; i <= 64; i++)
        {
            DriftAt here = Between(older, newer, years, low + ((high - low) * i / 64), shared, confidence);
            double size = here.Difference.StandardUncertainty > 0
                ? Math.Abs(here.Difference.Value) / here.Difference.StandardUncertainty
                : Math.Abs(here.Difference.Value);
            if (size > most)
            {
                (worst, most) = (here, size);
            }
        }

        return worst;
    }
}
