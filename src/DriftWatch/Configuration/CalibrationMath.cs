using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration;

/// <summary>A straight line, used to join unit conversions and resistors to calibrations.</summary>
internal readonly record struct Affine(double Gain, double Offset)
{
    public static readonly Affine Identity = new(1, 0);

    public double Apply(double x) => (Gain * x) + Offset;

    public double Undo(double y) => (y - Offset) / Gain;

    /// <summary>The conversion between two units of one quantity, which is a line for every unit there is.</summary>
    public static Affine Between(Unit from, Unit to)
    {
        if (ReferenceEquals(from, to))
        {
            return Identity;
        }

        double offset = from.Convert(0, to);
        return new Affine(from.Convert(1, to) - offset, offset);
    }
}

/// <summary>Joins calibrations with straight lines before and behind them, without leaving their form.</summary>
internal static class CalibrationMath
{
    /// <summary>x → after(calibration(before(x))); <paramref name="before"/> must rise.</summary>
    public static Calibration Join(Affine before, Calibration calibration, Affine after) => calibration switch
    {
        LineCalibration line => new LineCalibration(
            after.Gain * line.Gain * before.Gain,
            after.Apply(line.Convert(before.Offset))) { Note = line.Note },
        PolynomialCalibration polynomial => Join(before, polynomial, after),
        TableCalibration table => new TableCalibration(
            [.. table.Raw.Select(before.Undo)],
            [.. table.Values.Select(after.Apply)]) { Note = table.Note },
        _ => throw new ArgumentException($"Unknown form of calibration {calibration.GetType().Name}.", nameof(calibration)),
    };

    private static PolynomialCalibration Join(Affine before, PolynomialCalibration polynomial, Affine after)
    {
        // Horner's scheme with the line in place of x.
        var result = new double[polynomial.Coefficients.Count];
        for (int k = polynomial.Coefficients.Count - 1; k >= 0; k--)
        {
            for (int i = result.Length - 1; i >= 0; i--)
            {
                result[i] = (result[i] * before.Offset) + (i > 0 ? result[i - 1] * before.Gain : 0);
            }

            result[0] += polynomial.Coefficients[k];
        }

        for (int i = 0; i < result.Length; i++)
        {
            result[i] *= after.Gain;
        }

        result[0] += after.Offset;
        return new PolynomialCalibration(result) { Note = polynomial.Note };
    }
}
