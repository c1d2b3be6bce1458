using System.Text.Json;
using System.Text.Json.Serialization;

namespace DriftWatch.Measurement.Calibrations;

/// <summary>
/// Turns a raw reading into engineering units. A calibration has a version within its channel, the instant it was
/// entered and the instant from which it holds; recalibrating adds a version and rewrites nothing.
/// </summary>
[JsonPolymorphic(TypeDiscriminatorPropertyName = "form")]
[JsonDerivedType(typeof(LineCalibration), "line")]
[JsonDerivedType(typeof(PolynomialCalibration), "polynomial")]
[JsonDerivedType(typeof(TableCalibration), "table")]
public abstract record Calibration
{
    /// <summary>1 for the bench file's first; counts up within the channel.</summary>
    public int Version { get; init; } = 1;

    /// <summary>
    /// UTC nanoseconds since 1970 from which it holds, until the next one does; null for the bench file's own, which holds from where it came
    /// into force. Where that is before it was entered, readings of the time between are converted with it as well; findings stay as they
    /// were judged.
    /// </summary>
    public long? ValidFromUtcNanoseconds { get; init; }

    /// <summary>UTC nanoseconds at which it was entered; null for the bench file's own.</summary>
    public long? EnteredUtcNanoseconds { get; init; }

    /// <summary>Who, how, against what reference.</summary>
    public string? Note { get; init; }

    /// <summary>UUID v7, made where it was worked out; null for the bench file's own.</summary>
    public Guid? Id { get; init; }

    /// <summary>Who entered it; null for the bench file's own.</summary>
    public string? By { get; init; }

    /// <summary>How that name is known: declared, token or proxy.</summary>
    public string? IdentifiedBy { get; init; }

    /// <summary>Everything it was worked out from and came to, of format driftwatch.calibration/1; null where there is no such document.</summary>
    public JsonElement? Document { get; init; }

    /// <summary>The day, by the calendar of whoever wrote it, from which it should be done again; null when nobody has said.</summary>
    public DateOnly? Due { get; init; }

    /// <summary>It was entered for a time that was over already.</summary>
    [JsonIgnore]
    public bool IsAppliedBack => ValidFromUtcNanoseconds is { } from && from < EnteredUtcNanoseconds;

    /// <summary>Without the document: all that converting and judging need.</summary>
    public Calibration WithoutDocument() => Document is null ? this : this with { Document = null };

    /// <summary>Converts a finite raw value; the result may be outside the sensor's range but is finite for sane coefficients.</summary>
    public abstract double Convert(double raw);

    /// <summary>True where the mean of converted values equals the converted mean.</summary>
    [JsonIgnore]
    public abstract bool IsLinear { get; }

    /// <summary>+1 rising, −1 falling, 0 not monotonic over the real line (extremes must then come from raw).</summary>
    [JsonIgnore]
    public abstract int Direction { get; }
}

/// <summary>value = gain · raw + offset.</summary>
public sealed record LineCalibration(double Gain, double Offset) : Calibration
{
    public static LineCalibration Identity { get; } = new(1, 0);

    /// <summary>The line through two points: a range of the sensor onto a range of the quantity.</summary>
    public static LineCalibration Through(double raw0, double value0, double raw1, double value1)
    {
        double gain = (value1 - value0) / (raw1 - raw0);
        return new LineCalibration(gain, value0 - (gain * raw0));
    }

    public override double Convert(double raw) => (Gain * raw) + Offset;

    public override bool IsLinear => true;

    public override int Direction => Math.Sign(Gain);
}

/// <summary>value = Σ coefficients[i] · rawⁱ, lowest order first.</summary>
public sealed record PolynomialCalibration(IReadOnlyList<double> Coefficients) : Calibration
{
    public override double Convert(double raw)
    {
        double value = 0;
        for (int i = Coefficients.Count - 1; i >= 0; i--)
        {
            value = (value * raw) + Coefficients[i];
        }

        return value;
    }

    public override bool IsLinear => Coefficients.Count <= 2;

    public override int Direction => Coefficients.Count == 2 ? Math.Sign(Coefficients[1]) : 0;
}

/// <summary>Straight lines between points of rising raw value, extended beyond both ends with the slope of the end piece.</summary>
public sealed record TableCalibration : Calibration
{
    public TableCalibration(IReadOnlyList<double> raw, IReadOnlyList<double> values)
    {
        if (raw.Count < 2 || raw.Count != values.Count)
        {
            throw new ArgumentException("A table needs at least two points, as many values as raw points.", nameof(raw));
        }

        for (int i = 1; i < raw.Count; i++)
        {
            if (!(raw[i] > raw[i - 1]))
            {
                throw new ArgumentException($"Raw points must rise; point {i + 1} does not.", nameof(raw));
            }
        }

        Raw = raw;
        Values = values;
    }

    public IReadOnlyList<double> Raw { get; }

    public IReadOnlyList<double> Values { get; }

    public override double Convert(double raw)
    {
        int i = 1;
        while (i < Raw.Count - 1 && raw > Raw[i])
        {
            i++;
        }

        double slope = (Values[i] - Values[i - 1]) / (Raw[i] - Raw[i - 1]);
        return Values[i - 1] + (slope * (raw - Raw[i - 1]));
    }

    public override bool IsLinear => Raw.Count == 2;

    public override int Direction
    {
        get
        {
            int direction = Math.Sign(Values[1] - Values[0]);
            for (int i = 2; i < Values.Count; i++)
            {
                if (Math.Sign(Values[i] - Values[i - 1]) != direction)
                {
                    return 0;
                }
            }

            return direction;
        }
    }
}
