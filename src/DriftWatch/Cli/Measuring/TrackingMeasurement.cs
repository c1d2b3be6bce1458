using System.CommandLine;
using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure tracking</c>: where to set the tracking control, from a sweep of it.</summary>
internal static class TrackingMeasurement
{
    private const double MicrometresPerMil = 25.4;

    // A track that the flanks make less or more wide than this is read in another unit. Source: derived, ± some 40 % of 10 mil.
    private const double LeastWidthMil = 6;
    private const double GreatestWidthMil = 15;

    private static readonly (string Name, double? MilPerUnit, string Symbol)[] Units =
    [
        ("mil", 1, "mil"), ("um", 1 / MicrometresPerMil, "µm"), ("division", null, "divisions"),
    ];

    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV with a row a position: position, head1, head2, head3, head4 in dB; a head that is not there has no column, or empty cells." };
        var unit = new Option<string>("--unit")
        {
            Description = "Unit of the position: mil, um, or division, where what a division of the dial comes to is told by the flanks.",
            DefaultValueFactory = _ => "mil",
        };
        unit.AcceptOnlyFromAmong([.. Units.Select(u => u.Name)]);
        var command = new Command(
            "tracking",
            "Finds each head's peak in a sweep of the tracking control by two straight lines in volts, and where to set it: at the peak where the heads "
            + "agree, where the worst head loses least if they do not. Five positions over plus and minus 4 mil at least; the signal in sync tip or blanking.")
        {
            file, unit,
        };
        command.SetAction(parse => Run(
            parse.GetRequiredValue(file).ToString(), Array.Find(Units, u => u.Name == parse.GetValue(unit)), parse.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: "no head shows a peak; the message says what is missing",
            new HelpExample("driftwatch measure tracking sweep.csv", "a sweep in mil"),
            new HelpExample("driftwatch measure tracking sweep.csv --unit division", "a sweep in divisions of the dial"));
    }

    private static int Run(string path, (string Name, double? MilPerUnit, string Symbol) unit, TextWriter output)
    {
        NumberTable table = NumberTable.Read(path);
        if (!table.Has("position") || table.OneOf("head1", "head2", "head3", "head4") is null)
        {
            throw new RecordingException(path, 1, 1, "the heading names no sweep of the tracking control", "write the columns position, head1, head2, head3, head4");
        }

        double[] positions = new double[table.Count];
        var levels = new FourHeads[table.Count];
        for (int row = 0; row < table.Count; row++)
        {
            positions[row] = table.Number(row, "position");
            levels[row] = new FourHeads(Level(table, row, "head1"), Level(table, row, "head2"), Level(table, row, "head3"), Level(table, row, "head4"));
        }

        TrackingAdvice advice = TrackingSweep.Read(positions, levels, unit.MilPerUnit);
        output.WriteLine(positions.Length == 1
            ? $"{Path.GetFileName(path)}: one position, {Number(positions[0])} {unit.Symbol}."
            : $"{Path.GetFileName(path)}: {positions.Length} positions from {Number(positions.Min())} to {Number(positions.Max())} {unit.Symbol}.");
        output.WriteLine();
        TextTable.Write(output, ["head", $"peak, {unit.Symbol}", "95 % from", "to", "top, dB", "flat top", "scatter, dB"], advice.Peaks.Select(Row));
        output.WriteLine();
        if (!advice.Setting.IsKnown)
        {
            output.WriteLine("No head shows a peak: sweep the control from well before it to well beyond it, 4 mil each way, with five positions at least.");
            return ExitCode.NotSound;
        }

        Say(output, advice, advice.Setting.Value, unit.Symbol);
        Widths(output, advice, unit.MilPerUnit);
        return ExitCode.Done;
    }

    private static double? Level(NumberTable table, int row, string column) =>
        table.Text(row, column).Length == 0 ? null : table.Number(row, column);

    private static string[] Row(Answer<TrackingPeakFit> peak, int index)
    {
        string head = (index + 1).ToString(CultureInfo.InvariantCulture);
        if (!peak.IsKnown)
        {
            return peak.Missing is { What: "points of the sweep", Has: 0 } ? [head, "no signal", "", "", "", "", ""] : [head, peak.Missing!.ToString(), "", "", "", "", ""];
        }

        TrackingPeakFit fit = peak.Value;
        string flat = fit.FlatHalfWidth > 0 ? Number(2 * fit.FlatHalfWidth) : "none";
        return [head, Number(fit.Position), Number(fit.Lower), Number(fit.Upper), Number(fit.TopDb), flat, Number(fit.ScatterDb)];
    }

    private static void Say(TextWriter output, TrackingAdvice advice, TrackingSetting setting, string unit)
    {
        string where = $"{Number(setting.Setting)} {unit} (95 %: {Number(setting.Lower)} to {Number(setting.Upper)})";
        if (!setting.HeadsDisagree)
        {
            output.WriteLine(setting.Heads > 1 ? $"The heads agree (chance of more by noise alone: {setting.PValue:0.00})." : "One head alone: whether the others agree can't be told.");
            output.WriteLine($"Set the control to {where}.");
            return;
        }

        output.WriteLine($"The heads do not agree (chance of so much by noise alone: {(setting.PValue < 0.001 ? "below 0.001" : setting.PValue.ToString("0.000", CultureInfo.InvariantCulture))}): they sit at different heights on the wheel, and no setting suits all.");
        output.WriteLine($"Set the control to {where}: there the worst head loses least.");
        for (int head = 1; head <= advice.Peaks.Count; head++)
        {
            if (setting.LossDb[head] is { } loss)
            {
                output.WriteLine($"  head {head} loses {loss.ToString("0.00", CultureInfo.InvariantCulture)} dB{(head == setting.WorstHead ? ", the most" : "")}");
            }
        }
    }

    private static void Widths(TextWriter output, TrackingAdvice advice, double? milPerUnit)
    {
        double[] widths = [.. advice.Peaks.Where(p => p.IsKnown).Select(p => p.Value.Width)];
        double width = widths.Average();
        if (milPerUnit is not { } scale)
        {
            output.WriteLine($"By the flanks a division is {Number(TrackingTriangle.TrackMil / width)} mil, if the track is 10 mil wide.");
        }
        else if (width * scale is < LeastWidthMil or > GreatestWidthMil)
        {
            output.WriteLine($"Note: the flanks fit a track of {Number(width * scale)} mil, not 10. See whether the unit of the position is right, and whether levels are in dB of voltage.");
        }
    }

    private static string Number(double value) => (Math.Abs(value) < 0.0005 ? 0 : value).ToString("0.0##", CultureInfo.InvariantCulture);
}
