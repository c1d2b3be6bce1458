using System.CommandLine;
using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch baselines</c>: every baseline a bench's store holds, two of them compared, or one channel over all.</summary>
internal static class BaselinesCommand
{
    public static Command Create()
    {
        var store = new Argument<string>("STORE")
        {
            Description = "A bench's store folder, as driftwatch-data/practice. A service may go on writing to it.",
        };
        var compare = new Option<int[]>("--compare")
        {
            Description = "Two numbers of the list: channel by channel, what each was, the difference, and the difference in standard errors.",
            HelpName = "A B",
            Arity = new ArgumentArity(2, 2),
            AllowMultipleArgumentsPerToken = true,
        };
        var channel = new Option<string?>("--channel")
        {
            Description = "One channel or quantity over all baselines, and its trend a week: wear. Provisional ones are left out.",
            HelpName = "ID",
        };
        var provisional = new Option<bool>("--provisional")
        {
            Description = "With --channel: takes provisional baselines too.",
        };
        var command = new Command(
            "baselines",
            "Lists the baselines of a bench's store, which are kept for ever. A baseline is the mean of 30 s of every channel and quantity, "
            + "taken by a person or by the machine; limits and drifts are held against the newest one of the tape.")
        {
            store, compare, channel, provisional,
        };
        command.SetAction(parsed => Run(
            parsed.GetRequiredValue(store), parsed.GetValue(compare), parsed.GetValue(channel), parsed.GetValue(provisional), parsed.InvocationConfiguration.Output));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch baselines driftwatch-data/practice", "all of them, numbered, the newest last"),
            new HelpExample("driftwatch baselines driftwatch-data/practice --compare 3 17", "what has changed from the third to the seventeenth"),
            new HelpExample("driftwatch baselines driftwatch-data/practice --channel rf-head-2", "how head 2 wears over the weeks"));
    }

    private static int Run(string store, int[]? compare, string? channel, bool provisional, TextWriter output)
    {
        bool compares = compare is { Length: > 0 };
        if (compares && channel is not null)
        {
            throw new CommandException(ExitCode.Usage, "--compare and --channel ask for different things; give one of them");
        }

        if (provisional && channel is null)
        {
            throw new CommandException(ExitCode.Usage, "--provisional belongs to --channel; the list shows all anyway");
        }

        IReadOnlyList<TakenBaseline> baselines = Read(store);
        if (baselines.Count == 0)
        {
            throw new CommandException(ExitCode.BadInput, $"{store} holds no baseline yet; take one on the page once the machine is lined up, or let the tape run for some minutes");
        }

        if (compares)
        {
            Compare(output, baselines, compare![0], compare[1]);
        }
        else if (channel is not null)
        {
            Follow(output, baselines, channel, provisional);
        }
        else
        {
            List(output, baselines);
        }

        return ExitCode.Done;
    }

    private static IReadOnlyList<TakenBaseline> Read(string store)
    {
        try
        {
            using var reader = new BenchReader(SourceArguments.StoreFolder(store));
            return reader.Baselines();
        }
        catch (StoreException exception)
        {
            throw new CommandException(ExitCode.BadInput, exception.Message, exception);
        }
    }

    private static void List(TextWriter output, IReadOnlyList<TakenBaseline> baselines) => TextTable.Write(
        output,
        ["#", "taken (UTC)", "standing", "by", "state", "transfer", "values", "wrong meanwhile"],
        baselines.Select((b, i) => (string[])
        [
            Whole(i + 1), Instant(b), Slugs.Of(b.Standing), b.By, Slugs.Of(b.State), b.Transfer ?? "-", Whole(b.Values.Count), b.Unwell.Count > 0 ? string.Join(", ", b.Unwell) : "-",
        ]));

    private static void Compare(TextWriter output, IReadOnlyList<TakenBaseline> baselines, int first, int second)
    {
        TakenBaseline before = At(baselines, first);
        TakenBaseline after = At(baselines, second);
        if (first == second)
        {
            throw new CommandException(ExitCode.Usage, $"--compare {first} {second} is the same baseline twice; name two");
        }

        output.WriteLine($"{first}: {Describe(before)}");
        output.WriteLine($"{second}: {Describe(after)}");
        if (before.BenchHash != after.BenchHash)
        {
            output.WriteLine("The bench file was another one: channels may mean something else.");
        }

        output.WriteLine();
        TextTable.Write(
            output,
            ["channel", "unit", Whole(first), Whole(second), "difference", "in standard errors", "remark"],
            BaselineComparison.Of(before, after).Select(d => (string[])
            [
                d.Channel, d.Unit, Value(d.Before?.Value), Value(d.After?.Value), Signed(d.Difference), d.Errors is { } e ? e.ToString("+0.0;-0.0;0.0", CultureInfo.InvariantCulture) : "-", d.Remark,
            ]));
        output.WriteLine();
        output.WriteLine("Standard errors are those of half a minute's noise; tapes differ by more than that on a sound machine.");
    }

    private static void Follow(TextWriter output, IReadOnlyList<TakenBaseline> all, string channel, bool provisional)
    {
        if (all.All(b => b.Values.All(v => v.Channel != channel)))
        {
            string[] known = [.. all.SelectMany(b => b.Values).Select(v => v.Channel).Distinct()];
            string? nearest = NearestName.Of(channel, known);
            throw new CommandException(ExitCode.Usage, $"no baseline holds '{channel}'; {(nearest is null ? $"write one of {string.Join(", ", known)}" : $"did you mean '{nearest}'?")}");
        }

        List<(int Number, TakenBaseline Baseline)> chosen =
            [.. all.Select((b, i) => (i + 1, b)).Where(b => provisional || b.b.Standing != BaselineStanding.Provisional)];
        List<(int Number, TakenBaseline Baseline, BaselineValue Value)> rows =
            [.. chosen.SelectMany(c => c.Baseline.Values.Where(v => v.Channel == channel).Select(v => (c.Number, c.Baseline, v)))];
        if (rows.Count == 0)
        {
            throw new CommandException(ExitCode.BadInput, $"'{channel}' is in provisional baselines only; add --provisional to see them");
        }

        TextTable.Write(
            output,
            ["#", "taken (UTC)", "standing", "value", "unit", "standard error", "calibration"],
            rows.Select(r => (string[])
            [
                Whole(r.Number), Instant(r.Baseline), Slugs.Of(r.Baseline.Standing), Value(r.Value.Value), r.Value.Unit, Value(r.Value.StandardError), r.Value.CalibrationVersion is { } version ? Whole(version) : "-",
            ]));
        output.WriteLine();
        Answer<BaselineTrend> answer = BaselineComparison.Trend([.. chosen.Select(c => c.Baseline)], channel);
        if (!answer.IsKnown)
        {
            output.WriteLine($"No trend can be told: {answer.Missing}.");
            return;
        }

        BaselineTrend trend = answer.Value;
        string unit = rows[^1].Value.Unit;
        string significance = trend.Significance.IsKnown
            ? $"by chance in {trend.Significance.Value.ToString("0.0##", CultureInfo.InvariantCulture)} of cases (Mann-Kendall)"
            : $"whether by chance can't be told: {trend.Significance.Missing}";
        output.WriteLine(
            $"Over {trend.Count} baselines in {trend.Days.ToString("0.#", CultureInfo.InvariantCulture)} days: {Signed(trend.PerWeek)} {unit} a week ({Signed(trend.Low)} to {Signed(trend.High)}, Theil-Sen, 95 %); {significance}.");
    }

    private static TakenBaseline At(IReadOnlyList<TakenBaseline> baselines, int number) => number >= 1 && number <= baselines.Count
        ? baselines[number - 1]
        : throw new CommandException(ExitCode.Usage, $"there is no baseline {number}; the store holds 1 to {baselines.Count}");

    private static string Describe(TakenBaseline b) =>
        $"{Instant(b)}, {Slugs.Of(b.Standing)}, by {b.By}{(b.Transfer is null ? "" : $", transfer {b.Transfer}")}{(b.Unwell.Count > 0 ? $"; wrong meanwhile: {string.Join(", ", b.Unwell)}" : "")}";

    private static string Instant(TakenBaseline b) => UtcText.ToDateTimeOffset(b.UtcNanoseconds).ToString("yyyy-MM-dd HH:mm:ss", CultureInfo.InvariantCulture);

    private static string Whole(int number) => number.ToString(CultureInfo.InvariantCulture);

    private static string Value(double? value) => value is { } number ? number.ToString("0.###", CultureInfo.InvariantCulture) : "-";

    private static string Signed(double? value) => value is { } number ? number.ToString("+0.###;-0.###;0", CultureInfo.InvariantCulture) : "-";
}
