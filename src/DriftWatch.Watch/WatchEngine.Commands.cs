using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch;

public sealed partial class WatchEngine
{
    private void OnCommand(Command command)
    {
        switch (command)
        {
            case AcknowledgeCommand acknowledge:
                if (Find(acknowledge.Finding, command) is { } seen)
                {
                    seen.AcknowledgedBy = command.By;
                    _context.Desk.Restate(seen);
                }

                break;
            case ShelveCommand shelve:
                if (shelve.For <= TimeSpan.Zero)
                {
                    NotApplied(command, "a finding can be shelved only for a time longer than zero");
                }
                else if (Find(shelve.Finding, command) is { } shelved)
                {
                    shelved.ShelvedBy = command.By;
                    shelved.ShelvedUntil = _context.Now + shelve.For;
                    _context.Desk.Restate(shelved);
                }

                break;
            case BaselineCommand baseline:
                TakeBaseline(baseline.Provisional ? BaselineStanding.Provisional : BaselineStanding.Confirmed, command.By, command);
                break;
            case MarkCommand:
                Note(FindingKinds.Mark, command, command.Note ?? "Mark.");
                break;
            case PassBeginsCommand begins:
                _context.Machine.ForgetLosses();
                _autoBaseline.NewPass(Watched);
                _transfer = begins.Transfer;
                Note(FindingKinds.PassBegins, command, $"A pass of transfer {begins.Transfer} began.", new FindingDetail("transfer", null, begins.Transfer));
                break;
            case PassEndsCommand ends:
                _context.Machine.ForgetLosses();
                _transfer = null;
                Note(FindingKinds.PassEnds, command, $"A pass of transfer {ends.Transfer} ended.", new FindingDetail("transfer", null, ends.Transfer));
                break;
            default:
                NotApplied(command, "this version does not know the command");
                break;
        }
    }

    private OpenFinding? Find(string id, Command command)
    {
        OpenFinding? finding = _context.Desk.Find(id);
        if (finding is null)
        {
            NotApplied(command, $"no finding '{id}' lasts");
        }

        return finding;
    }

    private void Note(string kind, Command command, string text, params ReadOnlySpan<FindingDetail> more) => _context.Desk.Note(new FindingFacts
    {
        Kind = kind,
        Start = _context.Now,
        Cause = "person",
        Text = text,
        Details = [.. People(command.By, command), .. more],
    });

    private void NotApplied(Command command, string why) =>
        Note(FindingKinds.CommandNotApplied, command, $"What {command.By} asked for was not done: {why}.");

    private static List<FindingDetail> People(string by, Command? command)
    {
        var details = new List<FindingDetail> { new("by", null, by) };
        if (command is not null)
        {
            details.Add(new FindingDetail("identity", null, command.Identity));
            details.Add(new FindingDetail("command", null, command.Id.ToString("D")));
            if (command.Note is { } note)
            {
                details.Add(new FindingDetail("note", null, note));
            }
        }

        return details;
    }
}
