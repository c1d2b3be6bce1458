using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Measurement.Units;
using DriftWatch.Running;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Transfers;

/// <summary>Makes an entry of a request: fills in the pass in hand and what the readings say, and names the field that is wrong.</summary>
/// <param name="book">As it stands.</param>
/// <param name="telemetry">Of the bench.</param>
/// <param name="procedures">Of the site.</param>
/// <param name="review">A pass as it is looked through now.</param>
/// <param name="then">What a derived quantity was at an instant; null where that can't be worked out.</param>
/// <param name="present">What reads a step of the line-up, by id, and what it reads now; null where nothing samples.</param>
/// <param name="told">What the steps were told to read before.</param>
internal sealed class EntryMaker(
    TransferBook book, TransferTelemetry telemetry, TransferProcedures procedures, Func<BookPass, PassReview> review, Func<string, long, QuantityValue?>? then,
    Func<LineUpStepDefinition, string, PresentReading>? present, ToldReadings told)
{
    /// <summary>An instant so little ahead is now: a page's clock and the service's never agree to the millisecond. Source: our own choice.</summary>
    private const long ClocksApart = 2_000_000_000;

    /// <param name="request">What was sent.</param>
    /// <param name="by">Who signs, as he is known.</param>
    /// <param name="identity">How he is known.</param>
    /// <param name="nowUtc">Nanoseconds since 1970.</param>
    /// <param name="entry">Null where there is a problem.</param>
    public EntryProblem? Make(EntryRequest request, string by, string identity, long nowUtc, out EntryCommand? entry)
    {
        entry = null;
        long about = nowUtc;
        if (request.About is { Length: > 0 } text && !UtcText.TryParse(text, out about))
        {
            return new("about", $"'{text}' is not a time.", "Write it after RFC 3339, such as 2026-03-29T01:30:00Z.");
        }

        if (about > nowUtc && about - nowUtc <= ClocksApart)
        {
            about = nowUtc;
        }

        if (request.Kind is not { } kind || !EntryBody.Kinds.Contains(kind, StringComparer.Ordinal))
        {
            return new("kind", $"There is no entry of kind '{request.Kind}'.", $"{NearestName.Hint(request.Kind ?? "", EntryBody.Kinds)}use one of {string.Join(", ", EntryBody.Kinds)}.");
        }

        bool isOfShift = kind == "shift-handed-over" || (kind == "note" && request.Shift == true);
        if (isOfShift && (request.Transfer ?? request.Pass) is not null)
        {
            return new(request.Transfer is null ? "pass" : "transfer", "What is of the shift belongs to no transfer.", "Leave transfer and pass out, or 'shift'.");
        }

        BookPass? pass = isOfShift ? null : PassOf(request);
        EntryProblem? problem = Body(request, kind, pass, about, nowUtc, out EntryBody? body);
        if (problem is not null)
        {
            return problem;
        }

        bool isOfPass = body is not (TapeDescribed or TransferOpened) && (body is not NoteWritten || request.Transfer is null == request.Pass is null);
        entry = new EntryCommand
        {
            Id = request.Id ?? Guid.CreateVersion7(),
            By = by,
            Identity = identity,
            Note = string.IsNullOrWhiteSpace(request.Note) ? null : request.Note.Trim(),
            EnteredUtc = nowUtc,
            AboutUtc = about,
            Transfer = body switch
            {
                TapeDescribed => null,
                TransferOpened => request.Transfer ?? Guid.CreateVersion7(),
                PassOpened => request.Transfer ?? (book.Transfers.IsEmpty ? null : book.Transfers[^1].Id),
                _ => request.Transfer ?? (pass is null ? null : book.TransferOf(pass).Id),
            },
            Pass = body is PassOpened ? request.Pass ?? Guid.CreateVersion7() : isOfPass ? request.Pass ?? pass?.Id : null,
            Body = body!,
        };
        return null;
    }

    /// <summary>The pass that is named, else the one in hand: open, or the newest; a note goes only to one that is open.</summary>
    private BookPass? PassOf(EntryRequest request)
    {
        IEnumerable<BookPass> passes = book.Transfers.Where(t => request.Transfer is null || t.Id == request.Transfer).SelectMany(t => t.Passes);
        return request.Pass is { } id ? passes.FirstOrDefault(p => p.Id == id)
            : request.Kind == "note" ? passes.FirstOrDefault(p => p.Stage <= PassStage.Running)
            : passes.FirstOrDefault(p => p.Stage <= PassStage.Running) ?? passes.LastOrDefault();
    }

    private EntryProblem? Body(EntryRequest request, string kind, BookPass? pass, long about, long nowUtc, out EntryBody? body)
    {
        body = null;
        switch (kind)
        {
            case "tape-described":
                return Tape(request, out body);
            case "transfer-opened":
                if (request.Tape is not { } tape)
                {
                    return new("tape", "Which tape is missing.", "Give the id that its description was answered with.");
                }

                body = new TransferOpened { Tape = tape };
                return null;
            case "check-signed":
                return Check(request, about, out body);
            case "line-up-step":
                return Step(request, pass, about, nowUtc, out body);
            case "run-began":
                body = Began(request, pass, about, about, RunCue.Hand);
                return null;
            case "verdict-given":
                return Verdict(request, pass, out body);
            case "verdict-countersigned":
                body = new VerdictCountersigned { VerdictEntry = pass?.Verdict?.Entry.Id ?? Guid.Empty };
                return null;
            default:
                body = kind switch
                {
                    "shift-handed-over" => new ShiftHandedOver { To = request.To?.Trim() ?? "" },
                    "pass-opened" => new PassOpened(),
                    "pass-given-up" => new PassGivenUp(),
                    "line-up-ended" => new LineUpEnded(),
                    "run-ended" => new RunEnded { Cue = RunCue.Hand },
                    _ => new NoteWritten { IsMark = request.Mark ?? false },
                };
                return null;
        }
    }

    private static EntryProblem? Tape(EntryRequest request, out EntryBody? body)
    {
        body = null;
        TapeBand band = TapeBand.Unknown;
        if (request.Band is { } text && !Slugs.TryParse(text, out band))
        {
            return new("band", $"'{text}' is no band.", $"Use one of {string.Join(", ", Slugs.All<TapeBand>())}.");
        }

        body = new TapeDescribed
        {
            Tape = request.Tape ?? Guid.CreateVersion7(),
            Identifier = request.Identifier?.Trim() ?? "",
            Title = request.Title,
            Standard = request.Standard ?? "",
            Band = band,
            SpeedInchesPerSecond = request.SpeedInchesPerSecond ?? 0,
            Carrier = request.Carrier,
            Condition = request.Condition,
            PreviousPasses = request.PreviousPasses,
        };
        return null;
    }

    private EntryProblem? Check(EntryRequest request, long about, out EntryBody? body)
    {
        body = null;
        if (procedures.Checks.Items.FirstOrDefault(i => i.Key == request.Check) is not { } item)
        {
            return Unknown("check", request.Check, "the check list", procedures.Checks.Items.Select(i => i.Key));
        }

        if (!Slugs.TryParse(request.Answer ?? "", out CheckAnswer answer))
        {
            return new("answer", $"'{request.Answer}' is no answer.", $"Use one of {string.Join(", ", Slugs.All<CheckAnswer>())}.");
        }

        if (request.Value is not null && !item.AsksValue)
        {
            return new("value", $"The item '{item.Key}' asks for no number.", "Leave it out, or write it in 'note'.");
        }

        TelemetryProof? proof = answer == CheckAnswer.Done ? CheckProofs.Of(item, request.Value, telemetry.Readings(about, book, procedures.Checks)) : null;
        body = new CheckSigned { Check = item.Key, Answer = answer, Value = request.Value, Telemetry = proof, ListHash = procedures.Checks.Hash };
        return null;
    }

    private EntryProblem? Step(EntryRequest request, BookPass? pass, long about, long nowUtc, out EntryBody? body)
    {
        body = null;
        string? standard = pass is null ? null : book.Tape(book.TransferOf(pass).Tape)!.Now.Standard;
        LineUpStepDefinition[] steps = [.. procedures.LineUp.Steps.Where(s => s.Standard is null || standard is null || s.Standard == standard)];
        if (Array.Find(steps, s => s.Key == request.Step) is not { } step)
        {
            return Unknown("step", request.Step, "the line-up", steps.Select(s => s.Key));
        }

        if (request.ReadBy is { } reader && !step.Reads.Contains(reader, StringComparer.Ordinal))
        {
            return new("readBy", $"'{reader}' does not read the step '{step.Key}'.", step.Reads.Count == 0 ? "Leave it out: a person reads it off." : $"Use one of {string.Join(", ", step.Reads)}, or leave it out.");
        }

        if (Before(request, step, nowUtc, out double? before) is { } wrong)
        {
            return wrong;
        }

        bool done = request.Done ?? true;
        double? after = request.After;
        if (done && after is null && request.ReadBy is { } reads && about < nowUtc - ClocksApart)
        {
            // Written down afterwards: what it reads now is not what it read.
            after = Then(step, reads, about);
            if (after is null)
            {
                return new("readBy", $"What '{reads}' read at {UtcText.FromNanoseconds(about)} is not known.", "Give 'after' as a person read it off, without 'readBy', or leave 'about' out.");
            }
        }
        else if (done && after is null && request.ReadBy is { } live && present is not null)
        {
            PresentReading now = present(step, live);
            if (now.Value is null)
            {
                return new("readBy", $"'{live}' can't be read now: {now.Why}.", "Wait until it reads, or read the step off by eye and give 'after' without 'readBy'.");
            }

            after = now.Value;
        }

        if (done && after is null && (step.Least ?? step.Greatest) is not null)
        {
            return new("after", $"The step '{step.Key}' has a tolerance, and nothing to hold against it.", $"Give what was read at the end in {step.Unit}, or done = false with a note why.");
        }

        body = new LineUpStepRecorded
        {
            Step = step.Key,
            IsDone = done,
            Before = before is { } was ? new LineUpReading(was, request.ReadBy) : null,
            After = after is { } read ? new LineUpReading(read, request.ReadBy) : null,
            Tolerance = (step.Least ?? step.Greatest) is null ? null : new LineUpTolerance(step.Least, step.Greatest, step.Unit ?? "", step.Source),
            Turned = request.Turned,
            ListHash = procedures.LineUp.Hash,
        };
        return null;
    }

    /// <summary>The value before: as a person read it off, or as its reader was told to read at the instant that is named.</summary>
    private EntryProblem? Before(EntryRequest request, LineUpStepDefinition step, long nowUtc, out double? before)
    {
        before = request.Before;
        if ((before ?? request.After) is not null && request.ReadBy is { } reader)
        {
            return new(
                before is not null ? "before" : "after", $"What '{reader}' read is known to the service, and can't be sent.",
                "Name the instant of the first in 'beforeAt' and leave the second out, or leave 'readBy' out: then a person read both off.");
        }

        if (request.BeforeAt is not { Length: > 0 } text)
        {
            return null;
        }

        if (before is not null || request.ReadBy is not { } by)
        {
            return new("beforeAt", "An instant is named for what a channel or quantity read.", "Give 'readBy' and no 'before' with it, or give 'before' as it was read off.");
        }

        if (!UtcText.TryParse(text, out long at) || at > nowUtc + ClocksApart)
        {
            return new("beforeAt", $"'{text}' is no instant that has been.", "Write it after RFC 3339, such as 2026-03-29T01:30:00.250Z.");
        }

        before = Then(step, by, at);
        return before is not null ? null : new(
            "beforeAt", $"What '{by}' read at {text} is not known any more.", "Keep what it reads now once more, or read the step off by eye and leave 'readBy' out.");
    }

    /// <summary>What a step's reader read at an instant: as it was told, or by the record, from which a quantity is worked out again.</summary>
    private double? Then(LineUpStepDefinition step, string by, long utc) => told.At(step.Key, by, utc) ?? telemetry.ValueAt(by, utc, step.Unit)
        ?? (telemetry.Bench.Quantities.Any(q => q.Id == by) && then?.Invoke(by, utc) is { } was ? InUnitOf(step, was) : null);

    private static double? InUnitOf(LineUpStepDefinition step, QuantityValue was)
    {
        var own = Unit.Parse(was.Unit);
        Unit asked = step.Unit is { } symbol && Unit.TryParse(symbol, out Unit known) ? known : own;
        return own.ConvertsTo(asked) ? own.Convert(was.Value, asked) : null;
    }

    /// <summary>A run that begins: where its places come from, and whether the wheel turns at the tape's standard.</summary>
    public RunBegan Began(EntryRequest request, BookPass? pass, long about, long wheelAt, RunCue cue)
    {
        ChannelDefinition? counter = telemetry.Bench.Channels.FirstOrDefault(c => c.Role == ChannelRole.Timecode)
            ?? telemetry.Bench.Channels.FirstOrDefault(c => c.Role == ChannelRole.TapeCounter);
        string? standard = pass is null ? null : book.Tape(book.TransferOf(pass).Tape)!.Now.Standard;
        return new RunBegan
        {
            Cue = cue,
            Basis = counter?.Role switch { ChannelRole.Timecode => PositionBasis.Timecode, ChannelRole.TapeCounter => PositionBasis.Counter, _ => PositionBasis.ElapsedTime },
            Channel = counter?.Id,
            StartSeconds = (counter is null ? request.StartSeconds : telemetry.ValueAt(counter.Id, about, "s") ?? request.StartSeconds) ?? 0,
            Standard = standard is null ? null : WheelRate.Check(telemetry.WheelRateAt(wheelAt), standard),
        };
    }

    private EntryProblem? Verdict(EntryRequest request, BookPass? pass, out EntryBody? body)
    {
        body = null;
        Measurement.Transfers.Verdict given = default;
        if (request.Verdict is { } text && !Slugs.TryParse(text, out given))
        {
            return new("verdict", $"'{text}' is no verdict.", $"Use one of {string.Join(", ", Slugs.All<Measurement.Transfers.Verdict>())}.");
        }

        PassReview? looked = pass is null ? null : review(pass);
        VerdictJudgement judged = looked?.ByRules ?? new VerdictJudgement(given, []);
        body = new VerdictGiven
        {
            Verdict = request.Verdict is null ? judged.Verdict : given,
            ByRules = judged.Verdict,
            Reasons = judged.Reasons,
            RulesHash = (looked?.Procedures ?? procedures).Rules.Hash,
        };
        return null;
    }

    private static EntryProblem Unknown(string field, string? key, string list, IEnumerable<string> keys) =>
        new(field, $"'{key}' does not stand in {list}.", $"{NearestName.Hint(key ?? "", keys)}use one of {string.Join(", ", keys)}.");
}
