using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Turns a request into a <see cref="Command"/>, or says which field is wrong and what to write.</summary>
internal static class CommandRequestReader
{
    private const int LongestName = 80;
    private const int LongestNote = 2000;
    private const int LongestTransfer = 200;
    private const int LookBackLines = 1000;

    /// <summary>Longest shelving, in minutes: a day. Source: common practice, no source.</summary>
    private const double LongestShelfMinutes = 24 * 60;

    /// <returns>Null when it can be used; <paramref name="command"/> is then null only for a reload.</returns>
    public static ProblemHttpResult? Read(IBenchView view, string name, CommandRequest request, Caller caller, out string by, out Command? command)
    {
        command = null;
        ProblemHttpResult? problem =
            Signature(caller, request.By, out by)
            ?? OptionalText(request.Note, "note", LongestNote, out string? note)
            ?? (name is "acknowledge" or "shelve" or "unshelve" ? Target(view, request) : Unused(request.Finding, "finding", name) ?? Unused(request.Alarm, "alarm", name))
            ?? (name is "shelve" ? Minutes(request.ForMinutes) : Unused(request.ForMinutes, "forMinutes", name) ?? Unused(request.UntilOver, "untilOver", name))
            ?? (name is "out-of-service" or "in-service" ? Subject(view, request.Subject) : Unused(request.Subject, "subject", name));
        string transfer = "";
        problem ??= name is "pass-begins" or "pass-ends"
            ? Text(request.Transfer, "transfer", LongestTransfer, "Give the id of the transfer.", out transfer)
            : Unused(request.Transfer, "transfer", name);
        if (problem is not null)
        {
            return problem;
        }

        note = string.IsNullOrWhiteSpace(request.Note) ? null : request.Note.Trim();
        if (name == "mark" && note is null)
        {
            return Problems.BadParameter("note", "A mark without words says nothing.", "Give the remark in 'note'.");
        }

        if (name is "shelve" or "out-of-service" && note is null)
        {
            return Problems.BadParameter("note", "What keeps an alarm quiet needs a reason.", "Say why in 'note': who reads the book in the morning wants to know.");
        }

        Guid id = Guid.CreateVersion7();
        string target = request.Alarm ?? request.Finding ?? "";
        command = name switch
        {
            "acknowledge" => new AcknowledgeCommand { Id = id, By = by, Note = note, Finding = target },
            "shelve" => new ShelveCommand { Id = id, By = by, Note = note, Finding = target, For = TimeSpan.FromMinutes(request.ForMinutes!.Value), UntilOver = request.UntilOver ?? false },
            "unshelve" => new UnshelveCommand { Id = id, By = by, Note = note, Finding = target },
            "out-of-service" => new OutOfServiceCommand { Id = id, By = by, Note = note, Subject = request.Subject! },
            "in-service" => new InServiceCommand { Id = id, By = by, Note = note, Subject = request.Subject! },
            "baseline" => new BaselineCommand { Id = id, By = by, Note = note },
            "mark" => new MarkCommand { Id = id, By = by, Note = note },
            "pass-begins" => new PassBeginsCommand { Id = id, By = by, Note = note, Transfer = transfer },
            "pass-ends" => new PassEndsCommand { Id = id, By = by, Note = note, Transfer = transfer },
            _ => null,
        };
        command = command is null ? null : command with { Identity = caller.Identity };
        return null;
    }

    /// <summary>Who signs: the one who is signed in and nobody else, or on loopback the declared name.</summary>
    public static ProblemHttpResult? Signature(Caller caller, string? declared, out string by)
    {
        if (caller.Name is not { } name)
        {
            return Text(declared, "by", LongestName, "Give the name of the person who acts.", out by);
        }

        by = name;
        return string.IsNullOrWhiteSpace(declared) || declared.Trim() == name ? null : Problems.OtherName(name);
    }

    private static ProblemHttpResult? Text(string? value, string field, int longest, string remedy, out string text)
    {
        text = value?.Trim() ?? "";
        return text.Length == 0
            ? Problems.BadParameter(field, $"'{field}' is missing or empty.", remedy)
            : OptionalText(text, field, longest, out _);
    }

    private static ProblemHttpResult? OptionalText(string? value, string field, int longest, out string? text)
    {
        text = value;
        if (value is null)
        {
            return null;
        }

        if (value.Length > longest)
        {
            return Problems.BadParameter(field, $"'{field}' has {value.Length} characters.", $"Use at most {longest}.");
        }

        return value.Any(c => char.IsControl(c) && c is not '\n' and not '\t')
            ? Problems.BadParameter(field, $"'{field}' holds control characters.", "Use plain text.")
            : null;
    }

    /// <summary>An alarm by its id or tag, or a finding by its id: one of them.</summary>
    private static ProblemHttpResult? Target(IBenchView view, CommandRequest request)
    {
        if (string.IsNullOrEmpty(request.Alarm) == string.IsNullOrEmpty(request.Finding))
        {
            return Problems.BadParameter(
                request.Alarm is null ? "finding" : "alarm", "'alarm' or 'finding' is missing, or both are given.",
                "Give the id of the alarm, as alarms/open lists it, or the id of the finding, as findings/open lists it.");
        }

        if (request.Alarm is { Length: > 0 } alarm)
        {
            return view.OpenAlarms.Any(line => line.Id == alarm || line.Tag == alarm)
                ? null
                : Problems.BadParameter("alarm", $"No alarm '{alarm}' is open.", "Take an id or a tag from alarms/open.");
        }

        bool known = view.OpenFindings.Any(line => line.Id == request.Finding)
            || view.LatestFindings(LookBackLines).Rows.Any(row => row.Line.Id == request.Finding);
        return known
            ? null
            : Problems.BadParameter("finding", $"No finding '{request.Finding}' is open or among the latest.", "Take an id from findings/open or findings/latest.");
    }

    private static ProblemHttpResult? Subject(IBenchView view, string? subject)
    {
        if (string.IsNullOrEmpty(subject))
        {
            return Problems.BadParameter("subject", "'subject' is missing.", "Give the tag of the alarm, as alarms/open lists it, or the id of a channel.");
        }

        bool known = view.OpenAlarms.Any(line => line.Tag == subject)
            || view.Bench.Channels.Any(c => c.Id == subject) || view.Bench.Quantities.Any(q => q.Id == subject)
            || (subject.IndexOf('.', StringComparison.Ordinal) is var dot and > 0 && FindingKinds.All.Any(k => k.Kind == subject[..dot]));
        return known
            ? null
            : Problems.BadParameter("subject", $"'{subject}' is neither a channel of this bench nor the tag of an alarm.", "Take a tag from alarms/open, such as stale.guide-vacuum, or the id of a channel.");
    }

    private static ProblemHttpResult? Minutes(double? minutes) => minutes is >= 1 and <= LongestShelfMinutes
        ? null
        : Problems.BadParameter("forMinutes", "'forMinutes' must be a number from 1 to 1440.", "Say for how many minutes, such as \"forMinutes\": 30.");

    private static ProblemHttpResult? Unused(object? value, string field, string name) => value is null
        ? null
        : Problems.BadParameter(field, $"'{field}' means nothing to '{name}'.", "Leave it out.");
}
