using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Alarms;
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
                Answer(command, acknowledge.Finding, alarm => _alarms.Acknowledge(_context, alarm, command), finding => finding.AcknowledgedBy = command.By);
                break;
            case ShelveCommand shelve:
                if (shelve.For <= TimeSpan.Zero)
                {
                    NotApplied(command, "an alarm can be shelved only for a time longer than zero");
                    break;
                }

                Answer(command, shelve.Finding, alarm => _alarms.Shelve(_context, alarm, shelve.For, shelve.UntilOver, command), finding =>
                {
                    finding.ShelvedBy = command.By;
                    finding.ShelvedUntil = _context.Now + shelve.For;
                });
                break;
            case UnshelveCommand unshelve:
                Answer(command, unshelve.Finding, alarm => _alarms.Unshelve(_context, alarm, command), finding =>
                {
                    finding.ShelvedBy = null;
                    finding.ShelvedUntil = null;
                });
                break;
            case OutOfServiceCommand outOfService:
                if (!IsSubject(outOfService.Subject))
                {
                    NotApplied(command, $"'{outOfService.Subject}' is neither a channel of this bench nor the tag of an alarm");
                }
                else if (_alarms.TakeOutOfService(_context, outOfService.Subject, command) is { } notTaken)
                {
                    NotApplied(command, notTaken);
                }

                break;
            case InServiceCommand inService:
                if (_alarms.PutBackInService(_context, inService.Subject, command) is { } notPut)
                {
                    NotApplied(command, notPut);
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
            case EntryCommand entry:
                OnEntry(entry);
                break;
            case StoreFailsCommand fails:
                _store.OnFails(_context, fails);
                break;
            case StoreTakesCommand takes:
                _store.OnTakes(_context, takes);
                break;
            case MirrorFailsCommand fails:
                _mirrors.OnFails(_context, fails);
                break;
            case MirrorTakesCommand takes:
                _mirrors.OnTakes(_context, takes);
                break;
            case GoesOnCommand lent:
                OnGoesOn(lent);
                break;
            default:
                NotApplied(command, "this version does not know the command");
                break;
        }
    }

    /// <summary>
    /// What a person does to an alarm he does to each finding of it that lasts; a finding that belongs to no alarm can be
    /// named itself. What can't be done is said.
    /// </summary>
    private void Answer(Command command, string id, Func<Alarm, string?> act, Action<OpenFinding> mark)
    {
        Alarm? alarm = _alarms.Named(id);
        string? whyNot = alarm is null ? $"no alarm or finding '{id}' lasts" : act(alarm);
        OpenFinding[] marked = [.. _context.Desk.Open.Where(f => f.Line.Id == id || (whyNot is null && alarm!.Has(f.Line.Id)))];
        foreach (OpenFinding finding in marked)
        {
            mark(finding);
            _context.Desk.Restate(finding);
        }

        if (whyNot is not null && marked.Length == 0)
        {
            NotApplied(command, whyNot);
        }
    }

    /// <summary>A channel or quantity of the bench, or kind and subject of an alarm.</summary>
    private bool IsSubject(string subject) => _context.Find(subject) is not null
        || (subject.IndexOf('.', StringComparison.Ordinal) is var dot and > 0 && FindingKinds.All.Any(k => k.Kind == subject[..dot]));

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
