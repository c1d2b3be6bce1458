using System.CommandLine;
using System.Text.Json.Nodes;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Transfers;

namespace DriftWatch.Cli.Transfers;

/// <summary>
/// <c>driftwatch transfer</c>: a tape's way through the bench by command line, live or afterwards. One verb for each
/// kind of entry, and three to look: <c>list</c>, <c>show</c>, <c>review</c>.
/// </summary>
internal static class TransferCommand
{
    private static readonly HelpExample Describe = new(
        "driftwatch transfer tape driftwatch-data/mybench --identifier \"VT 1047\" --standard 525/60 --speed 15 --by Ida", "a tape; its id is printed");

    public static Command Create()
    {
        var command = new Command(
            "transfer",
            "Takes a tape through the bench: describes it, opens transfer and pass, signs the pre-flight, records the line-up, begins and ends the run, "
            + "gives and countersigns the verdict. Nothing entered is ever overwritten. Works on a store that a service writes to and on one that lies still; "
            + "--about tells of an instant that has been, so that a recording can be taken through afterwards.")
        {
            Verb("tape", "tape-described", "Describes a tape, or corrects what was said of it (--tape).", Describe,
                Word("--tape", "Id of a tape that is described anew. Default: a new tape.", (r, v) => r with { Tape = Id("--tape", v) }),
                Word("--identifier", "What stands on its box.", (r, v) => r with { Identifier = v }),
                Word("--title", "Title.", (r, v) => r with { Title = v }),
                Word("--standard", "525/60 or 625/50.", (r, v) => r with { Standard = v }),
                Word("--band", $"One of {string.Join(", ", Slugs.All<TapeBand>())}.", (r, v) => r with { Band = v }),
                Number("--speed", "Inches a second, as 15, 15.625 or 7.5.", (r, v) => r with { SpeedInchesPerSecond = v }),
                Word("--carrier", "Stock, reel, splices, box, labels.", (r, v) => r with { Carrier = v }),
                Word("--condition", "What was seen of its condition.", (r, v) => r with { Condition = v }),
                Word("--previous-passes", "What is known of passes before this book.", (r, v) => r with { PreviousPasses = v })),
            Verb("open", "transfer-opened", "Opens a transfer of a tape.", new("driftwatch transfer open driftwatch-data/mybench --tape 0190… --by Ida", "the transfer's id is printed"),
                Word("--tape", "Id of the tape.", (r, v) => r with { Tape = Id("--tape", v) })),
            Verb("pass", "pass-opened", "Opens a pass: a new try, with a pre-flight, a line-up, a run and a verdict of its own.", new("driftwatch transfer pass driftwatch-data/mybench --by Ida", "in the newest transfer")),
            Verb("give-up", "pass-given-up", "A pass that will have no run; --note says why.", new("driftwatch transfer give-up driftwatch-data/mybench --note \"sticks; to be baked\" --by Ida", "the pass in hand")),
            Verb("check", "check-signed", "Signs an item of the pre-flight. What readings say of it is kept with it, and shown.", new("driftwatch transfer check driftwatch-data/mybench dew-point --by Ida", "signed as done"),
                Key("ITEM", "Key of the item; 'transfer show' lists them.", (r, v) => r with { Check = v, Answer = r.Answer ?? "done" }),
                Word("--answer", "done, not-done or does-not-apply. Default: done.", (r, v) => r with { Answer = v }),
                Number("--value", "The number that the item asks for.", (r, v) => r with { Value = v })),
            Verb("step", "line-up-step", "Records a step of the line-up.", new("driftwatch transfer step driftwatch-data/mybench audio-zero --before 0.8 --after 0.1 --turned \"playback gain, down\" --by Ida", "read by eye before and after"),
                Key("STEP", "Key of the step; 'transfer show' lists them.", (r, v) => r with { Step = v }),
                Number("--before", "What was read before, in the step's unit.", (r, v) => r with { Before = v }),
                Number("--after", "What was read in the end.", (r, v) => r with { After = v }),
                Word("--before-at", "Instead of --before, with --read-by: when the channel read it, as 2026-03-01T21:00:00Z; it is looked up in the store.", (r, v) => r with { BeforeAt = v }),
                Word("--read-by", "The channel or quantity that read both. Default: a person.", (r, v) => r with { ReadBy = v }),
                Word("--turned", "What was turned, which way and how far.", (r, v) => r with { Turned = v }),
                Flag("--left-out", "The step was left out; --note says why.", r => r with { Done = false })),
            Verb("lined-up", "line-up-ended", "Ends the line-up; live, this takes the tape's baseline.", new("driftwatch transfer lined-up driftwatch-data/mybench --by Ida", "the tape may run")),
            Verb("begin", "run-began", "Begins the run by hand; a live service does it by the machine's state.", new("driftwatch transfer begin driftwatch-data/mybench --about 2026-03-01T21:00:00Z --by Ida", "a run of a recording"),
                Number("--start", "What the counter stands at, in seconds, where no channel tells it.", (r, v) => r with { StartSeconds = v })),
            Verb("end", "run-ended", "Ends the run by hand.", new("driftwatch transfer end driftwatch-data/mybench --by Ida", "now")),
            Verb("note", "note", "Writes a note (--note), on the pass in hand or on the shift; --mark marks a place on the tape.", new("driftwatch transfer note driftwatch-data/mybench --mark --by Ida", "look at this place again"),
                Flag("--mark", "A mark: words are optional.", r => r with { Mark = true }),
                Flag("--shift", "On the shift alone, even while a pass is in hand.", r => r with { Shift = true })),
            Verb("hand-over", "shift-handed-over", "Hands the shift over: --by to --to. 'driftwatch handover' tells what there is to hand over.", new("driftwatch transfer hand-over driftwatch-data/mybench --to \"Tom Ashby\" --by \"Ida Wren\"", "signed by who goes"),
                Word("--to", "Who takes over.", (r, v) => r with { To = v })),
            Verb("verdict", "verdict-given", "Gives the verdict. Without --verdict it is what the site's rules come to; another needs --note.", new("driftwatch transfer verdict driftwatch-data/mybench --by Ida", "as the rules say"),
                Word("--verdict", $"One of {string.Join(", ", Slugs.All<Verdict>())}.", (r, v) => r with { Verdict = v })),
            Verb("countersign", "verdict-countersigned", "A second person stands behind the verdict.", new("driftwatch transfer countersign driftwatch-data/mybench --by Ben", "another name than the verdict's")),
            TransferLook.List(),
            TransferLook.Show(),
            TransferLook.Review(),
        };
        return command.WithHelp(notSound: null, Describe);
    }

    /// <summary>An option or argument of a verb, and what it puts into the request.</summary>
    private sealed record Part(Symbol Symbol, Func<ParseResult, EntryRequest, EntryRequest> Apply);

    private static Command Verb(string name, string kind, string description, HelpExample example, params Part[] parts)
    {
        Argument<string> store = Store();
        var by = new Option<string>("--by") { Description = "Who signs.", HelpName = "NAME", Required = true };
        Option<string?> about = Text("--about", "The instant it is about, UTC, as 2026-03-01T21:00:00Z. Default: now.", "TIME");
        Option<string?> note = Text("--note", "Words.", "TEXT");
        Option<string?> transfer = Text("--transfer", "Id of the transfer. Default: of the pass in hand, else the newest.", "ID");
        Option<string?> pass = Text("--pass", "Id of the pass. Default: the one in hand, else the newest.", "ID");
        Option<string?> id = Text("--id", "Id of the entry, a UUID of version 7: sent again, it is entered once. Default: a new one.", "ID");
        var service = new Option<string>("--service")
        {
            Description = $"Where the service listens that writes to the store, if one does; {ServiceClient.TokenVariable} holds a token if it asks for one.",
            HelpName = "URL",
            DefaultValueFactory = _ => $"http://127.0.0.1:{WatchCommand.DefaultPort}",
        };
        var command = new Command(name, description) { store };
        foreach (Part part in parts)
        {
            if (part.Symbol is Argument argument)
            {
                command.Arguments.Add(argument);
            }
            else
            {
                command.Options.Add((Option)part.Symbol);
            }
        }

        foreach (Option option in (Option[])[by, about, note, transfer, pass, id, service])
        {
            command.Options.Add(option);
        }

        command.SetAction(async (parsed, cancel) =>
        {
            var request = new EntryRequest
            {
                Kind = kind,
                By = parsed.GetRequiredValue(by),
                About = parsed.GetValue(about),
                Note = parsed.GetValue(note),
                Transfer = IdOrNone("--transfer", parsed.GetValue(transfer)),
                Pass = IdOrNone("--pass", parsed.GetValue(pass)),
                Id = IdOrNone("--id", parsed.GetValue(id)),
            };
            if (!Uri.TryCreate(parsed.GetRequiredValue(service).TrimEnd('/') + "/", UriKind.Absolute, out Uri? address))
            {
                throw new CommandException(ExitCode.Usage, $"--service {parsed.GetValue(service)}: not an address; write for example http://127.0.0.1:{WatchCommand.DefaultPort}");
            }

            request = parts.Aggregate(request, (r, part) => part.Apply(parsed, r));
            Print(parsed.InvocationConfiguration.Output, await EntryDoor.EnterAsync(parsed.GetRequiredValue(store), address, request, cancel));
            return ExitCode.Done;
        });
        return command.WithHelp(notSound: "the entry was refused; why and what to do was said", example);
    }

    internal static Argument<string> Store() => new("STORE") { Description = "A bench's store folder, as driftwatch-data/mybench. A service may go on writing to it." };

    internal static Guid? IdOrNone(string name, string? text) => text is null ? null : Id(name, text);

    /// <summary>What was entered, so that the next command can name it; and what readings say against it.</summary>
    private static void Print(TextWriter output, JsonObject answer)
    {
        output.WriteLine($"{(string?)answer["kind"]} by {(string?)answer["by"]}, about {(string?)answer["about"]}{((long?)answer["input"] == 0 ? ": had been entered before" : "")}");
        foreach (string name in (string[])["tape", "transfer", "pass", "verdict"])
        {
            if ((string?)answer[name] is { } value)
            {
                output.WriteLine($"  {name,-9} {value}");
            }
        }

        if (answer["telemetry"] is JsonObject proof)
        {
            output.WriteLine($"  readings  {(string?)proof["standing"]}: {(string?)proof["text"]}");
        }
    }

    private static Guid Id(string name, string text) => Guid.TryParse(text, out Guid id)
        ? id
        : throw new CommandException(ExitCode.Usage, $"'{text}' after {name} is no id; write it as 'transfer list' prints it");

    private static Part Word(string name, string description, Func<EntryRequest, string, EntryRequest> put)
    {
        Option<string?> option = Text(name, description, "TEXT");
        return new Part(option, (parsed, request) => parsed.GetValue(option) is { } value ? put(request, value) : request);
    }

    private static Part Number(string name, string description, Func<EntryRequest, double, EntryRequest> put)
    {
        var option = new Option<double?>(name) { Description = description, HelpName = "NUMBER" };
        return new Part(option, (parsed, request) => parsed.GetValue(option) is { } value ? put(request, value) : request);
    }

    private static Part Flag(string name, string description, Func<EntryRequest, EntryRequest> put)
    {
        var option = new Option<bool>(name) { Description = description };
        return new Part(option, (parsed, request) => parsed.GetValue(option) ? put(request) : request);
    }

    private static Part Key(string name, string description, Func<EntryRequest, string, EntryRequest> put)
    {
        var argument = new Argument<string>(name) { Description = description };
        return new Part(argument, (parsed, request) => put(request, parsed.GetRequiredValue(argument)));
    }

    private static Option<string?> Text(string name, string description, string help) => new(name) { Description = description, HelpName = help };
}
