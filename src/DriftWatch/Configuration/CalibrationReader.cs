using System.Globalization;
using DriftWatch.Measurement.Calibrations;
using MathNet.Numerics;

namespace DriftWatch.Configuration;

/// <summary>Reads a calibration table: exactly one of its four forms, a note, and the day it is due again.</summary>
internal static class CalibrationReader
{
    private static readonly string[] Forms = ["line", "points", "polynomial", "table"];

    public static Calibration? Read(SectionReader section)
    {
        string? note = section.Text("note");
        DateOnly? due = Due(section);
        string[] given = [.. Forms.Where(section.Has)];
        if (given.Length != 1)
        {
            section.SayHere(
                given.Length == 0 ? "'calibration' says nothing" : $"'calibration' has {string.Join(" and ", given)}",
                $"write one of {string.Join(", ", Forms)}, such as calibration = {{ points = [[0.5, 0.0], [4.5, 100.0]] }}");
            return null;
        }

        Calibration? calibration = given[0] switch
        {
            "line" => Line(section),
            "points" => BestLine(section),
            "polynomial" => section.Numbers("polynomial") is { } c ? new PolynomialCalibration(c) : null,
            _ => Table(section),
        };
        return calibration is null ? null : calibration with { Note = note, Due = due };
    }

    private static DateOnly? Due(SectionReader section)
    {
        if (section.Text("due") is not { } text)
        {
            return null;
        }

        if (DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly due))
        {
            return due;
        }

        section.Say("due", $"'due' is \"{text}\", which is no day", "write year, month and day, such as due = \"2027-03-01\"");
        return null;
    }

    private static LineCalibration? Line(SectionReader section)
    {
        if (section.Table("line") is not { } line || line.Number("gain") is not { } gain)
        {
            return null;
        }

        double offset = line.Number("offset") ?? 0;
        if (gain != 0)
        {
            return new LineCalibration(gain, offset);
        }

        line.Say("gain", "'gain' is 0: every reading would give the same value", "write the units of the quantity per unit of raw");
        return null;
    }

    private static LineCalibration? BestLine(SectionReader section)
    {
        if (section.Points("points") is not { } points)
        {
            return null;
        }

        if (points.Select(p => p.Raw).Distinct().Count() < 2)
        {
            section.Say("points", "'points' has only one raw value, which makes no line", "write at least two pairs [raw, value] of different raw");
            return null;
        }

        LineCalibration line;
        if (points.Length == 2)
        {
            line = LineCalibration.Through(points[0].Raw, points[0].Value, points[1].Raw, points[1].Value);
        }
        else
        {
            (double offset, double gain) = Fit.Line([.. points.Select(p => p.Raw)], [.. points.Select(p => p.Value)]);
            line = new LineCalibration(gain, offset);
        }

        if (line.Gain != 0 && double.IsFinite(line.Gain) && double.IsFinite(line.Offset))
        {
            return line;
        }

        section.Say("points", "'points' makes a flat line: every reading would give the same value", "write pairs [raw, value] of different value");
        return null;
    }

    private static TableCalibration? Table(SectionReader section)
    {
        if (section.Points("table") is not { } points)
        {
            return null;
        }

        for (int i = 1; i < points.Length; i++)
        {
            if (!(points[i].Raw > points[i - 1].Raw))
            {
                section.Say(
                    "table",
                    $"'table' must rise in raw, but {SectionReader.Plain(points[i].Raw)} follows {SectionReader.Plain(points[i - 1].Raw)}",
                    "write the pairs in the order of rising raw, each raw once");
                return null;
            }
        }

        return new TableCalibration([.. points.Select(p => p.Raw)], [.. points.Select(p => p.Value)]);
    }
}
