using System.CommandLine;
using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.RfHeads;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure matching</c>: three channels matched to that of the first head on two bars.</summary>
internal static class MatchingMeasurement
{
    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV with a row a reading: head (1 to 4), dark, bright: the luminance of two bars, in mV or IRE." };
        var tolerance = new Option<double>("--tolerance")
        {
            Description = "Good enough, in percent of the step between the bars. Default: 1 (common practice, no source).",
            DefaultValueFactory = _ => ChannelMatching.GoodWithinPercent,
        };
        tolerance.Validators.Add(result =>
        {
            if (!(result.GetValueOrDefault<double>() is > 0 and <= 50))
            {
                result.AddError("--tolerance takes a number of percent above 0, up to 50.");
            }
        });
        var command = new Command(
            "matching",
            "Matches the channels of heads 2 to 4 to that of head 1 on two bars: gain and offset, each with its uncertainty; which to turn, which way and "
            + "by how much; or that it is good. Ten readings of each head's bars, spread over some seconds, are a good number.")
        {
            file, tolerance,
        };
        command.SetAction(parse => Run(parse.GetRequiredValue(file).ToString(), parse.GetValue(tolerance), parse.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: "a channel does not match yet, or it can't be told",
            new HelpExample("driftwatch measure matching bars.csv", "what to turn on each channel"),
            new HelpExample("driftwatch measure matching bars.csv --tolerance 0.5", "to half a percent"));
    }

    private static int Run(string path, double tolerance, TextWriter output)
    {
        NumberTable table = NumberTable.Read(path);
        if (!table.Has("head") || !table.Has("dark") || !table.Has("bright"))
        {
            throw new RecordingException(path, 1, 1, "the heading names no readings of two bars", "write the columns head, dark, bright");
        }

        int[] heads = [.. Enumerable.Range(0, table.Count).Select(row => table.Whole(row, "head", 1, FourHeads.Count))];
        Answer<TwoBars>[] bars = [.. Enumerable.Range(1, FourHeads.Count).Select(head => BarsOf(table, heads, head))];
        if (!bars[0].IsKnown)
        {
            throw new CommandException(ExitCode.NotSound, $"{path}: {bars[0].Missing} of head 1, which the others are matched to.");
        }

        var rows = new List<string[]>();
        var advice = new List<string>();
        bool matched = true;
        for (int head = 2; head <= FourHeads.Count; head++)
        {
            Answer<ChannelMismatch> answer = bars[head - 1].IsKnown ? ChannelMatching.Compare(bars[0].Value, bars[head - 1].Value, head, tolerance) : bars[head - 1].Missing!;
            if (!answer.IsKnown)
            {
                matched = false;
                rows.Add([$"{head}", "not told", "", "", ""]);
                advice.Add($"head {head}: {answer.Missing}.");
                continue;
            }

            ChannelMismatch mismatch = answer.Value;
            matched &= mismatch.IsMatched;
            rows.Add([$"{head}", With(mismatch.GainPercent), With(mismatch.GainDb), With(mismatch.OffsetPercent), With(mismatch.Offset)]);
            advice.Add(Advise(mismatch));
        }

        output.WriteLine($"{Path.GetFileName(path)}: {(table.Count == 1 ? "one reading" : $"{table.Count} readings")}, matched to head 1, good within {tolerance.ToString("0.##", CultureInfo.InvariantCulture)} % (± is 95 %).");
        output.WriteLine();
        TextTable.Write(output, ["head", "gain, %", "gain, dB", "offset, %", "offset, as read"], rows);
        output.WriteLine();
        foreach (string line in advice)
        {
            output.WriteLine($"- {line}");
        }

        return matched ? ExitCode.Done : ExitCode.NotSound;
    }

    private static Answer<TwoBars> BarsOf(NumberTable table, int[] heads, int head)
    {
        int[] rows = [.. Enumerable.Range(0, heads.Length).Where(row => heads[row] == head)];
        return TwoBars.From([.. rows.Select(row => table.Number(row, "dark"))], [.. rows.Select(row => table.Number(row, "bright"))]);
    }

    /// <summary>The gain first: turning it moves the darker bar too.</summary>
    private static string Advise(ChannelMismatch mismatch)
    {
        string gain = mismatch.TurnGain switch
        {
            Turn.Up or Turn.Down => $"turn the gain {(mismatch.TurnGain == Turn.Up ? "up" : "down")} by {Plain(Math.Abs(mismatch.GainPercent.Value))} % ({Plain(Math.Abs(mismatch.GainDb.Value))} dB)",
            Turn.ReadLonger => "whether the gain matches can't be told yet, read longer",
            _ => "leave the gain",
        };
        string offset = mismatch.TurnOffset switch
        {
            Turn.Up or Turn.Down => $"{(mismatch.TurnGain is Turn.Up or Turn.Down ? "then " : "")}turn the black {(mismatch.TurnOffset == Turn.Up ? "up" : "down")} by {Plain(Math.Abs(mismatch.Offset.Value))}",
            Turn.ReadLonger => "whether the black matches can't be told yet, read longer",
            _ => "leave the black",
        };
        return mismatch.IsMatched ? $"head {mismatch.Head}: good, leave it." : $"head {mismatch.Head}: {gain}; {offset}.";
    }

    private static string With(Uncertain value) => $"{Signed(value.Value)} ± {Plain(value.Expanded())}";

    private static string Signed(double value) => value.ToString("+0.00;-0.00;0.00", CultureInfo.InvariantCulture);

    private static string Plain(double value) => value.ToString("0.00", CultureInfo.InvariantCulture);
}
