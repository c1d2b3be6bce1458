using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Calibrating;

namespace DriftWatch.Cli.Calibrating;

/// <summary>Leads a person through a calibration at the terminal: the reference, then point by point up and down.</summary>
/// <param name="input">What he types.</param>
/// <param name="output">What he is asked.</param>
/// <param name="time">Tells how long a point takes to come to rest.</param>
/// <param name="draft">Keeps what was measured after every point; null where nothing is kept.</param>
internal sealed class CalibrationGuide(TextReader input, TextWriter output, TimeProvider time, CalibrationDraft? draft = null)
{
    private const int Readings = 8;
    private static readonly TimeSpan Every = TimeSpan.FromMilliseconds(500);
    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(60);

    /// <exception cref="CommandException">The input ended before all was said.</exception>
    public async Task<CalibrationSheet> AskAsync(ICalibrationPlace place, CancellationToken cancel)
    {
        (string label, string unit, string rawUnit) = place.Channel;
        output.WriteLine($"Calibration of {label}: read in {rawUnit}, shown in {unit}. Nothing is entered before the end; Ctrl-C leaves.");
        output.WriteLine(CalibrationCertificate.Caution(unit));
        output.WriteLine();
        CalibrationSheet? kept = GoOn();
        ReferenceSheet reference = kept?.Reference ?? new ReferenceSheet
        {
            Name = Text("What are the points held against"),
            Serial = Optional("Its serial number"),
            Certificate = Optional("Its certificate's number"),
            Unit = Optional($"Its unit [{unit}]"),
            Uncertainty = Number("Its expanded uncertainty by that certificate, in its unit [not known]"),
            Coverage = Number("The k of that [2]"),
            Resolution = Number("Least step it shows [0]"),
        };
        double? tolerance = kept is null ? Number($"Greatest error that is accepted, {unit} [as last time]") : kept.Tolerance;
        double? resolution = kept is null ? Number($"Least step of the input, {rawUnit} [as last time, else 0]") : kept.Resolution;
        string shown = reference.Unit ?? unit;
        double[] up = Numbers($"Points going up, in {shown}, separated by blanks");
        var points = new List<PointSheet>();
        (double Nominal, string Direction)[] way = [.. up.Order().Select(n => (n, "up")), .. up.OrderDescending().Skip(1).Select(n => (n, "down"))];
        var sheet = new CalibrationSheet { Reference = reference, Tolerance = tolerance, Resolution = resolution };
        for (int i = 0; i < way.Length; i++)
        {
            // As far as the way is the same: who changes it halfway measures the rest of it.
            if (points.Count == i && kept?.Points is { } before && i < before.Count && before[i].Nominal == way[i].Nominal && before[i].Direction == way[i].Direction)
            {
                points.Add(before[i]);
                continue;
            }

            output.WriteLine();
            output.WriteLine($"Point {i + 1} of {way.Length}, going {way[i].Direction}: set the reference to {Plain(way[i].Nominal)} {shown} without passing it.");
            double read = Number($"What does the reference read [{Plain(way[i].Nominal)}]") ?? way[i].Nominal;
            (double[] raw, bool? settled) = place.IsLive ? await LiveAsync(place, rawUnit, resolution ?? 0, cancel) : (Numbers($"Readings of the input, {rawUnit}, separated by blanks"), null);
            points.Add(new PointSheet { Nominal = way[i].Nominal, Reference = read, Raw = raw, Direction = way[i].Direction, Settled = settled });
            Keep(sheet with { Points = points });
        }

        output.WriteLine();
        sheet = sheet with { Points = points, Conditions = Optional("Where, and how warm"), Note = Optional("A note") };
        Keep(sheet);
        return sheet;
    }

    private void Keep(CalibrationSheet sheet)
    {
        if (draft?.Keep(sheet) is { } why)
        {
            output.WriteLine($"  this can't be kept in {draft.Path} ({why}): go on, but a power cut would cost it; --keep FILE names another place");
        }
    }

    /// <summary>What was measured before a power cut or Ctrl-C, if there is any and it is gone on from.</summary>
    private CalibrationSheet? GoOn()
    {
        if (draft is null)
        {
            return null;
        }

        if (draft.Read() is not { Reference.Name: { } name, Points.Count: > 0 and var count } kept)
        {
            output.WriteLine($"What you measure is kept in {draft.Path} after every point: the same command goes on from there.");
            return null;
        }

        output.WriteLine($"{draft.Path} keeps {(count == 1 ? "a point" : $"{count} points")} against {name} that {(count == 1 ? "was" : "were")} not entered.");
        if (IsYes(input, output, "Go on from there"))
        {
            return kept;
        }

        return IsYes(input, output, "Begin anew, and lose them")
            ? null
            : throw new CommandException(ExitCode.Stopped, $"nothing was changed; {draft.Path} stays, and can be entered with --sheet");
    }

    public static bool IsYes(TextReader input, TextWriter output, string question)
    {
        output.Write($"{question}? (y/n) ");
        string? answer = input.ReadLine();
        output.WriteLine();
        return answer?.Trim().ToLowerInvariant() is "y" or "yes";
    }

    /// <summary>Reads until the last readings have come to rest, or for a minute and then asks.</summary>
    private async Task<(double[] Raw, bool? Settled)> LiveAsync(ICalibrationPlace place, string rawUnit, double resolution, CancellationToken cancel)
    {
        var seen = new List<(double Seconds, double Raw)>();
        long began = time.GetTimestamp();
        while (true)
        {
            if (await place.ReadAsync(cancel) is { } now && (seen.Count == 0 || now.Seconds > seen[^1].Seconds))
            {
                seen.Add(now);
            }

            (double Seconds, double Raw)[] last = [.. seen.TakeLast(Readings)];
            Answer<Settling> rest = Settling.Of([.. last.Select(r => r.Seconds)], [.. last.Select(r => r.Raw)], resolution);
            if (last.Length == Readings && rest is { IsKnown: true, Value.IsSettled: true })
            {
                output.WriteLine($"At rest: {Plain(last.Average(r => r.Raw))} {rawUnit} over {last.Length} readings, scatter {Plain(rest.Value.Scatter)}.");
                return ([.. last.Select(r => r.Raw)], true);
            }

            if (time.GetElapsedTime(began) > Longest)
            {
                output.WriteLine(rest.IsKnown ? $"It still moves by {Plain(rest.Value.Change)} {rawUnit} over {last.Length} readings." : "No fresh reading came in a minute: look at the instrument.");
                if (rest.IsKnown && IsYes(input, output, "Take it all the same"))
                {
                    return ([.. last.Select(r => r.Raw)], false);
                }

                if (rest.IsKnown && !IsYes(input, output, "Wait another minute"))
                {
                    throw new CommandException(ExitCode.Stopped, "left before the point had come to rest; nothing was entered");
                }

                seen.Clear();
                began = time.GetTimestamp();
            }

            await Task.Delay(Every, time, cancel);
        }
    }

    private string Text(string question)
    {
        while (true)
        {
            if (Optional(question) is { } answer)
            {
                return answer;
            }

            output.WriteLine("  this one is needed");
        }
    }

    private string? Optional(string question)
    {
        output.Write($"{question}: ");
        string answer = input.ReadLine() ?? throw new CommandException(ExitCode.BadInput, "the answers ended before all was asked; nothing was entered");
        return string.Concat(answer.Where(c => !char.IsControl(c))).Trim() is { Length: > 0 } text ? text : null; // an arrow key types some
    }

    private double? Number(string question)
    {
        while (true)
        {
            if (Optional(question) is not { } text)
            {
                return null;
            }

            if (TryNumber(text, out double value))
            {
                return value;
            }

            output.WriteLine($"  '{text}' is no number; write it as 0.05");
        }
    }

    private double[] Numbers(string question)
    {
        while (true)
        {
            string text = Text(question);
            var values = new List<double>();
            string? wrong = text.Split((char[])[' ', ';', '\t'], StringSplitOptions.RemoveEmptyEntries).FirstOrDefault(w =>
            {
                bool known = TryNumber(w, out double value);
                values.Add(value);
                return !known;
            });
            if (wrong is null)
            {
                return [.. values];
            }

            output.WriteLine($"  '{wrong}' is no number; write them as 0 25 50 75 100");
        }
    }

    private static bool TryNumber(string text, out double value) =>
        double.TryParse(text, NumberStyles.Float, CultureInfo.InvariantCulture, out value) && double.IsFinite(value);

    private static string Plain(double value) => value.ToString("0.######", CultureInfo.InvariantCulture);
}
