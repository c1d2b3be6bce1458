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
                TakeBaseline(baseline.Provisional, command.By, command);
                break;
            case MarkCommand:
                Note(FindingKinds.Mark, command, command.Note ?? "Mark.");
                break;
            case PassBeginsCommand begins:
                _context.Machine.ForgetLosses();
                _autoBaseline.NewPass(Watched);
                Note(FindingKinds.PassBegins, command, $"A pass of transfer {begins.Transfer} began.", new FindingDetail("transfer", null, begins.Transfer));
                break;
            case PassEndsCommand ends:
                _context.Machine.ForgetLosses();
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

    /// <summary>Means of the last 30 s, channel by channel; one without readings keeps the baseline it has.</summary>
    private void TakeBaseline(bool provisional, string by, Command? command)
    {
        var details = new List<FindingDetail>(_channels.Length + 3);
        int taken = 0;
        foreach (ChannelWatch channel in Watched)
        {
            if (command is null && channel is { Baseline: not null, BaselineIsProvisional: false })
            {
                continue; // the machine never replaces a person's
            }

            if (channel.Means.MeanAt(_context.Now) is { } mean)
            {
                channel.TakeBaseline(mean, channel.Means.DeviationAt(_context.Now), provisional);
                details.Add(new FindingDetail(channel.Definition.Id, mean));
                taken++;
            }
            else
            {
                details.Add(new FindingDetail(channel.Definition.Id, null, "no-reading"));
            }
        }

        if (taken > 0)
        {
            _autoBaseline.Taken();
        }
        else
        {
            if (command is not null)
            {
                NotApplied(command, "no channel has had a reading in the last 30 s");
            }

            return;
        }

        string text = provisional
            ? $"The means of the last 30 s of {taken} channels are the baseline until a person confirms or replaces it."
            : $"The means of the last 30 s of {taken} channels are this tape's baseline.";
        _context.Desk.Note(new FindingFacts
        {
            Kind = FindingKinds.BaselineTaken,
            Start = _context.Now,
            Cause = provisional ? "provisional" : "confirmed",
            Text = text,
            Details = [.. People(by, command), .. details],
        });
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
