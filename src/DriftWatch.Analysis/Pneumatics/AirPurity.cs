namespace DriftWatch.Analysis.Pneumatics;

/// <summary>One part of a purity class: what it is, or why it can't be told.</summary>
/// <param name="Class">1 to 6 (water); null where it can't be told.</param>
/// <param name="Says">In words, for the record.</param>
public readonly record struct PurityPart(int? Class, string Says);

/// <summary>
/// Purity of compressed air after ISO 8573-1:2010 as far as a pressure dew point tells it: the middle figure of three. Particles need a particle
/// counter and oil needs sampling (ISO 8573-2, -4 and -5): from pressures and dew points nothing can be said of them.
/// Limits of the water classes as published in several makers' tables of the standard: −70, −40, −20, +3, +7, +10 °C pressure dew point for classes 1 to
/// 6, unless agreed otherwise at 7 bar and 20 °C. Classes 7 to 9 are of liquid water, and class 0 is what user and supplier agree.
/// </summary>
public static class AirPurity
{
    private static readonly (int Class, double AtMostC)[] WaterClasses = [(1, -70), (2, -40), (3, -20), (4, 3), (5, 7), (6, 10)];

    /// <summary>Nothing here measures them.</summary>
    public static PurityPart Particles { get; } = new(null, "particles can't be told: that needs a particle counter (ISO 8573-4)");

    /// <inheritdoc cref="Particles"/>
    public static PurityPart Oil { get; } = new(null, "oil can't be told: that needs sampling of aerosol and vapour (ISO 8573-2 and -5)");

    /// <summary>The water class.</summary>
    /// <param name="pressureDewPointC">At the pressure of the line, °C; finite. Below 0 a frost point.</param>
    public static PurityPart Water(double pressureDewPointC)
    {
        Statistics.Finite.Require(pressureDewPointC);
        foreach ((int grade, double atMost) in WaterClasses)
        {
            if (pressureDewPointC <= atMost)
            {
                return new PurityPart(grade, string.Create(
                    System.Globalization.CultureInfo.InvariantCulture, $"water class {grade}: pressure dew point at most {atMost:+0;-0} °C"));
            }
        }

        return new PurityPart(null, "wetter than water class 6 (+10 °C): classes 7 to 9 go by liquid water, which a dew point doesn't tell");
    }

    /// <summary>As the standard writes it, a hyphen for what is not told: ISO 8573-1:2010 [-:3:-].</summary>
    public static string Designation(double pressureDewPointC) =>
        $"ISO 8573-1:2010 [-:{Water(pressureDewPointC).Class?.ToString(System.Globalization.CultureInfo.InvariantCulture) ?? "-"}:-]";
}
