using System.CommandLine;
using System.Globalization;
using System.Text;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports;
using DriftWatch.Reports.Reviews;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Cli.Transfers;

/// <summary>The verbs of <c>driftwatch transfer</c> that look: all transfers, one pass, and what happened where.</summary>
internal static class TransferLook
{
    private static readonly string[] Formats = ["text", "csv", "edl", "vtt"];

    public static Command List()
    {
        Argument<string> store = TransferCommand.Store();
        var command = new Command("list", "Every pass of every transfer, the newest last.") { store };
        command.SetAction(parsed =>
        {
            using BenchReader reader = EntryDoor.Open(parsed.GetRequiredValue(store));
            TransferBook book = TransferBook.Of(reader.Entries().Select(e => e.Entry));
            TextTable.Write(
                parsed.InvocationConfiguration.Output,
                ["tape", "transfer", "#", "stage", "run began (UTC)", "run ended (UTC)", "verdict", "by", "countersigned"],
                book.Transfers.SelectMany(t => t.Passes.DefaultIfEmpty().Select(p => (string[])
                [
                    book.Tape(t.Tape)!.Now.Identifier, t.Id.ToString("D"), p?.Number.ToString(CultureInfo.InvariantCulture) ?? "-", p is null ? "no pass yet" : Slugs.Of(p.Stage),
                    Instant(p?.RunBegan?.Entry), Instant(p?.RunEnded?.Entry), p?.Verdict is { } verdict ? Slugs.Of(verdict.Body.Verdict) : "-",
                    p?.Verdict?.Entry.By ?? "-", p?.Countersigned?.Entry.By ?? "-",
                ])));
            return ExitCode.Done;
        });
        return command.WithHelp(notSound: null, new HelpExample("driftwatch transfer list driftwatch-data/mybench", "what was transferred here"));
    }

    /// <param name="time">Tells what is now; null: the machine's clock.</param>
    public static Command Show(TimeProvider? time = null)
    {
        (Argument<string> store, Option<string?> transfer, Option<string?> pass) = Place();
        var command = new Command("show", "One pass: what was signed and recorded, what readings say against it, what is missing, what comes next.") { store, transfer, pass };
        command.SetAction(parsed =>
        {
            using var look = new Look(parsed.GetRequiredValue(store), parsed.GetValue(transfer), parsed.GetValue(pass), time ?? TimeProvider.System);
            Write(parsed.InvocationConfiguration.Output, look);
            return ExitCode.Done;
        });
        return command.WithHelp(notSound: null, new HelpExample("driftwatch transfer show driftwatch-data/mybench", "the pass in hand"));
    }

    public static Command Review()
    {
        (Argument<string> store, Option<string?> transfer, Option<string?> pass) = Place();
        var format = new Option<string>("--format")
        {
            Description = "text: all of it for a person; csv, edl (CMX 3600 style), vtt (WebVTT): the sections to run again.",
            DefaultValueFactory = _ => "text",
        };
        format.AcceptOnlyFromAmong(Formats);
        var items = new Option<bool>("--items") { Description = "All that happened, instead of the sections to run again." };
        var to = new Option<string?>("--out") { Description = "The file to write. Default: standard output.", HelpName = "FILE" };
        var command = new Command("review", "What happened where on the tape, what is to be run again with handles before and after, and the verdict by the site's rules with every reason.")
        {
            store, transfer, pass, format, items, to,
        };
        command.SetAction(parsed =>
        {
            using var look = new Look(parsed.GetRequiredValue(store), parsed.GetValue(transfer), parsed.GetValue(pass), TimeProvider.System);
            string chosen = parsed.GetRequiredValue(format);
            string text = chosen == "text" ? InWords(look) : ReviewExport.Write(look.Book, look.Pass, look.Review, chosen, parsed.GetValue(items));
            if (parsed.GetValue(to) is { } path)
            {
                WholeFile.Write(path, file => file.Write(Encoding.UTF8.GetBytes(text)));
            }
            else
            {
                parsed.InvocationConfiguration.Output.Write(text);
            }

            return ExitCode.Done;
        });
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch transfer review driftwatch-data/mybench", "everything, for a person"),
            new HelpExample("driftwatch transfer review driftwatch-data/mybench --format edl --out again.edl", "what to run again, for an editing machine"));
    }

    private static (Argument<string> Store, Option<string?> Transfer, Option<string?> Pass) Place() => (
        TransferCommand.Store(),
        new Option<string?>("--transfer") { Description = "Id of the transfer. Default: of the pass in hand, else the newest.", HelpName = "ID" },
        new Option<string?>("--pass") { Description = "Id of the pass. Default: the one in hand, else the newest.", HelpName = "ID" });

    private static void Write(TextWriter output, Look look)
    {
        PassProgress progress = look.Review.Progress;
        output.WriteLine($"{look.Tape.Identifier}, {look.Tape.Standard}, {look.Tape.SpeedInchesPerSecond.ToString(CultureInfo.InvariantCulture)} in/s: pass {look.Pass.Number}, {Slugs.Of(look.Pass.Stage)}");
        output.WriteLine($"Next: {progress.Next}");
        bool isPrepared = look.Pass.Stage <= PassStage.Ready;
        if (isPrepared)
        {
            // Before its line-up and not after its run: a machine that is lined up to another standard has to be lined up again.
            TelemetryProof rate = WheelRate.Check(look.Telemetry.WheelRateAt(look.NowUtc), look.Tape.Standard);
            output.WriteLine($"standard now {Slugs.Of(rate.Standing)}: {rate.Text}");
        }

        output.WriteLine();
        ProofReadings? now = isPrepared ? look.Telemetry.Readings(look.NowUtc, look.Book, look.Procedures.Checks) : null;
        foreach (CheckDefinition item in look.Procedures.Checks.Items)
        {
            Said<CheckSigned>? said = look.Pass.Checks.FirstOrDefault(c => c.Body.Check == item.Key);
            output.WriteLine($"{item.Key,-22} {(said is null ? "not signed" : $"{Slugs.Of(said.Body.Answer)}, {said.Entry.By}, {UtcText.FromNanoseconds(said.Entry.AboutUtc)}{(said.Body.Value is null ? "" : "," + Value(said.Body.Value, item.Unit))}{Words(said.Entry)}")}");
            WriteCaution(output, item.Caution);
            if (said?.Body.Telemetry is { } proof)
            {
                output.WriteLine($"{"",-22} {Slugs.Of(proof.Standing)}: {proof.Text}");
            }
            else if (said is null && now is not null && CheckProofs.Of(item, null, now) is { } unsigned)
            {
                output.WriteLine($"{"",-22} now {Slugs.Of(unsigned.Standing)}: {unsigned.Text}");
            }
        }

        output.WriteLine();
        foreach (LineUpStepDefinition step in PassProgress.StepsFor(look.Tape, look.Procedures.LineUp))
        {
            Said<LineUpStepRecorded>? said = look.Pass.Steps.FirstOrDefault(s => s.Body.Step == step.Key);
            output.WriteLine($"{step.Key,-22} {(said is null ? "not recorded" : StepWords(said, step))}");
            WriteCaution(output, step.Caution);
        }

        output.WriteLine();
        output.WriteLine(look.Pass.LineUpEnded is { } ended ? $"lined up by {ended.Entry.By}, {UtcText.FromNanoseconds(ended.Entry.AboutUtc)}" : "line-up not ended");
        if (look.Pass.RunBegan is { } began)
        {
            output.WriteLine($"run from {UtcText.FromNanoseconds(began.Entry.AboutUtc)} to {(look.Pass.RunEnded is { } over ? UtcText.FromNanoseconds(over.Entry.AboutUtc) : "-")}; places {look.Review.Places}");
            output.WriteLine(look.Review.Standard is { } rate ? $"standard {Slugs.Of(rate.Standing)}: {rate.Text}" : "standard not checked");
        }

        if (look.Pass.Verdict is { } verdict)
        {
            output.WriteLine($"verdict {Slugs.Of(verdict.Body.Verdict)} by {verdict.Entry.By}{Words(verdict.Entry)}; countersigned by {look.Pass.Countersigned?.Entry.By ?? "nobody yet"}");
        }
    }

    /// <summary>Whether it is done or not: who looks may be about to do it again.</summary>
    private static void WriteCaution(TextWriter output, string? caution)
    {
        if (caution is not null)
        {
            output.WriteLine($"{"",-22} caution: {caution}");
        }
    }

    private static string StepWords(Said<LineUpStepRecorded> said, LineUpStepDefinition definition)
    {
        LineUpStepRecorded step = said.Body;
        string held = step.Tolerance is { } tolerance && step.After is { } after
            ? tolerance.Holds(after.Value) ? ", in tolerance" : ", OUTSIDE its tolerance"
            : "";
        string reader = (step.After ?? step.Before) is { } reading ? reading.IsByHand ? ", read by hand" : $", read by {reading.Channel}" : "";
        return $"{(step.IsDone ? "done" : "left out")}, {said.Entry.By}:{Value(step.Before?.Value, definition.Unit)} to{Value(step.After?.Value, definition.Unit)}{held}{reader}"
            + $"{(step.Turned is { } turned ? $"; turned {turned}" : "")}{Words(said.Entry)}";
    }

    private static string InWords(Look look)
    {
        var text = new StringWriter();
        text.WriteLine($"{look.Tape.Identifier}, pass {look.Pass.Number}: {look.Review.Items.Count} things happened; places {look.Review.Places ?? "not known: there was no run yet"}");
        foreach (ReviewItem item in look.Review.Items)
        {
            text.WriteLine($"  {item.From} {Slugs.Of(item.Severity),-8} {item.Kind}: {item.Text}");
        }

        if (Unread.Words(look.Review.Unread) is { } unread)
        {
            text.WriteLine(unread);
        }

        text.WriteLine($"{(look.Review.Sections.Count == 1 ? "1 section" : $"{look.Review.Sections.Count} sections")} to run again");
        foreach (TapeSection section in look.Review.Sections)
        {
            text.WriteLine($"  {new TapePlace(section.FromSeconds, default)} to {new TapePlace(section.ToSeconds, default)}: {string.Join(" ", section.Reasons)}");
        }

        if (look.Review.ByRules is { } judged)
        {
            text.WriteLine($"By the rules: {Slugs.Of(judged.Verdict)}");
            foreach (VerdictReason reason in judged.Reasons)
            {
                text.WriteLine($"  {Slugs.Of(reason.Verdict),-18} {reason.Rule}: {reason.Text}{(reason.FromSeconds is { } at ? $" (at {new TapePlace(at, default)})" : "")}");
            }
        }

        return text.ToString();
    }

    private static string Value(double? value, string? unit) => value is { } number ? $" {number.ToString("0.###", CultureInfo.InvariantCulture)} {unit}".TrimEnd() : " -";

    private static string Words(EntryCommand entry) => entry.Note is { } note ? $" ({note})" : "";

    private static string Instant(EntryCommand? entry) => entry is null ? "-" : UtcText.FromNanoseconds(entry.AboutUtc);

    /// <summary>One pass of a store, read.</summary>
    private sealed class Look : IDisposable
    {
        private readonly BenchReader _reader;

        public Look(string folder, string? transfer, string? pass, TimeProvider time)
        {
            BenchDefinition bench = EntryDoor.BenchOf(folder);
            _reader = EntryDoor.Open(folder);
            Book = TransferBook.Of(_reader.Entries().Select(e => e.Entry));
            Guid? id = TransferCommand.IdOrNone("--pass", pass);
            Guid? of = TransferCommand.IdOrNone("--transfer", transfer);
            BookPass[] passes = [.. Book.Transfers.Where(t => of is null || t.Id == of).SelectMany(t => t.Passes).Where(p => id is null || p.Id == id)];
            Pass = Array.Find(passes, p => p.Stage <= PassStage.Running) ?? passes.LastOrDefault()
                ?? throw new CommandException(ExitCode.BadInput, $"{folder} has no such pass; 'driftwatch transfer list {folder}' tells what it has");
            Tape = Book.Tape(Book.TransferOf(Pass).Tape)!.Now;
            NowUtc = UtcText.ToNanoseconds(time.GetUtcNow());
            Review = PassReview.Of(_reader, bench, Book, Pass, NowUtc);
            Telemetry = new TransferTelemetry(_reader, bench);
        }

        public TransferBook Book { get; }

        public BookPass Pass { get; }

        public TapeDescribed Tape { get; }

        public TransferProcedures Procedures => Review.Procedures;

        public PassReview Review { get; }

        /// <summary>By the bench of now.</summary>
        public TransferTelemetry Telemetry { get; }

        public long NowUtc { get; }

        public void Dispose() => _reader.Dispose();
    }
}
