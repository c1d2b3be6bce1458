using DriftWatch.Calibrating;
using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;

namespace DriftWatch.Configuration;

/// <summary>What a calibration sheet says, or the mistakes that stand in its way; never both.</summary>
internal sealed record CalibrationSheetResult(CalibrationSheet? Sheet, IReadOnlyList<FileMistake> Mistakes);

/// <summary>Reads a calibration sheet (TOML, UTF-8). All mistakes of form are found in one go; what the numbers make is the maker's business.</summary>
internal static class CalibrationSheetFile
{
    /// <remarks>Never throws for what the file says, nor for one that is missing or unreadable.</remarks>
    public static CalibrationSheetResult Load(string path)
    {
        var mistakes = new MistakeList();
        CalibrationSheet? sheet = SourceText.Read(path, mistakes) is { } text && TomlTreeReader.Read(path, text, mistakes) is { } root
            ? Read(new SectionReader(path, root, SheetKeys.Root, mistakes))
            : null;
        return mistakes.Count == 0 ? new CalibrationSheetResult(sheet, []) : new CalibrationSheetResult(null, mistakes.InReadingOrder(path));
    }

    private static CalibrationSheet Read(SectionReader top) => new()
    {
        Reference = top.Table("reference") is { } reference ? Reference(reference) : null,
        Tolerance = top.Number("tolerance"),
        Resolution = top.Number("resolution"),
        Degree = top.Integer("degree"),
        AtRaw = top.Number("at-raw"),
        OriginRaw = top.Number("origin-raw"),
        IntervalMonths = top.Integer("interval-months"),
        Conditions = top.Text("conditions"),
        Note = top.Text("note"),
        Points = [.. top.Tables("point").Select(Point)],
    };

    private static ReferenceSheet Reference(SectionReader section) => new()
    {
        Name = section.Text("name"),
        Serial = section.Text("serial"),
        Certificate = section.Text("certificate"),
        Unit = section.Unit("unit")?.Symbol,
        Uncertainty = section.Number("uncertainty"),
        Coverage = section.Number("coverage"),
        Resolution = section.Number("resolution"),
        Due = section.Text("due"),
    };

    private static PointSheet Point(SectionReader section) => new()
    {
        Reference = section.Number("reference"),
        Raw = section.Numbers("raw"),
        Nominal = section.Number("nominal"),
        Direction = section.Choice("direction"),
        Settled = section.Flag("settled"),
    };
}
