using DriftWatch.Measurement.Inputs;
using DriftWatch.Running;
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
    public static ProblemHttpResult? Read(IBenchView view, string name, CommandRequest request, out Command? command)
    {
        command = null;
        ProblemHttpResult? problem =
            Text(request.By, "by", LongestName, "Give the name of the person who acts.", out string by)
            ?? OptionalText(request.Note, "note", LongestNote, out string? note)
            ?? (name is "acknowledge" or "shelve" ? Finding(view, request.Finding) : Unused(request.Finding, "finding", name))
            ?? (name is "shelve" ? Minutes(request.ForMinutes) : Unused(request.ForMinutes, "forMinutes", name));
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

        Guid id = Guid.CreateVersion7();
        command = name switch
        {
            "acknowledge" => new AcknowledgeCommand { Id = id, By = by, Note = note, Finding = request.Finding! },
            "shelve" => new ShelveCommand { Id = id, By = by, Note = note, Finding = request.Finding!, For = TimeSpan.FromMinutes(request.ForMinutes!.Value) },
            "baseline" => new BaselineCommand { Id = id, By = by, Note = note },
            "mark" => new MarkCommand { Id = id, By = by, Note = note },
            "pass-begins" => new PassBeginsCommand { Id = id, By = by, Note = note, Transfer = transfer },
            "pass-ends" => new PassEndsCommand { Id = id, By = by, Note = note, Transfer = transfer },
            _ => null,
        };
        return null;
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

    private static ProblemHttpResult? Finding(IBenchView view, string? finding)
    {
        if (string.IsNullOrEmpty(finding))
        {
            return Problems.BadParameter("finding", "'finding' is missing.", "Give the id of the finding, as findings/open lists it.");
        }

        bool known = view.OpenFindings.Any(line => line.Id == finding)
            || view.LatestFindings(LookBackLines).Rows.Any(row => row.Line.Id == finding);
        return known
            ? null
            : Problems.BadParameter("finding", $"No finding '{finding}' is open or among the latest.", "Take an id from findings/open or findings/latest.");
    }

    private static ProblemHttpResult? Minutes(double? minutes) => minutes is >= 1 and <= LongestShelfMinutes
        ? null
        : Problems.BadParameter("forMinutes", "'forMinutes' must be a number from 1 to 1440.", "Say for how many minutes, such as \"forMinutes\": 30.");

    private static ProblemHttpResult? Unused(object? value, string field, string name) => value is null
        ? null
        : Problems.BadParameter(field, $"'{field}' means nothing to '{name}'.", "Leave it out.");
}
