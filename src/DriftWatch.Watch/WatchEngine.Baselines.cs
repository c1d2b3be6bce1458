using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Watch.Baselines;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch;

public sealed partial class WatchEngine
{
    /// <summary>Means of the last 30 s, channel by channel; one without readings keeps the baseline it has.</summary>
    private void TakeBaseline(BaselineStanding standing, string by, Command? command)
    {
        List<Unwell> unwell = BaselineCheck.Of(_context, Watched);
        var details = new List<FindingDetail>(Watched.Length + 4);
        var values = new List<BaselineValue>(Watched.Length);
        foreach (ChannelWatch channel in Watched)
        {
            if (command is null && channel is { Baseline: not null, Standing: BaselineStanding.Confirmed })
            {
                continue; // the machine never replaces a person's
            }

            if (channel.Present(_context.Now) is { } present)
            {
                channel.TakeBaseline(present, standing);
                values.Add(present);
                details.Add(new FindingDetail(channel.Definition.Id, present.Value));
            }
            else
            {
                details.Add(new FindingDetail(channel.Definition.Id, null, "no-reading"));
            }
        }

        if (values.Count == 0)
        {
            if (command is not null)
            {
                NotApplied(command, "no channel has had a reading in the last 30 s");
            }

            return;
        }

        if (command is not null)
        {
            _autoBaseline.Taken();
        }

        if (standing == BaselineStanding.Confirmed)
        {
            KeepLineUp(unwell);
        }

        _context.Quantities.OnBaseline(standing);

        string[] wrong = [.. unwell.Select(u => u.What).Distinct()];
        if (wrong.Length > 0)
        {
            details.Insert(0, new FindingDetail("unwell", null, string.Join(", ", wrong)));
        }

        _context.Desk.Note(
            new FindingFacts
            {
                Kind = FindingKinds.BaselineTaken,
                Start = _context.Now,
                Cause = Slugs.Of(standing),
                Text = standing switch
                {
                    BaselineStanding.Provisional => $"The means of the last 30 s of {values.Count} channels are the baseline until a person confirms or replaces it.",
                    BaselineStanding.Stable => $"After settled minutes the means of the last 30 s of {values.Count} channels are this tape's baseline, until a person takes another.",
                    _ => $"The means of the last 30 s of {values.Count} channels are this tape's baseline.",
                },
                Details = [.. People(by, command), .. details],
            },
            line => line with
            {
                Baseline = new TakenBaseline
                {
                    Number = _lastNumber,
                    At = _context.Now,
                    UtcNanoseconds = line.RaisedUtc,
                    Bench = line.Bench,
                    BenchHash = line.BenchHash,
                    State = line.State,
                    By = by,
                    Standing = standing,
                    Transfer = _transfer,
                    Unwell = wrong,
                    Values = values,
                },
            });
        if (command is not null && unwell.Count > 0)
        {
            _context.Desk.Note(new FindingFacts
            {
                Kind = FindingKinds.BaselineDoubtful,
                Severity = Severity.Advisory,
                Start = _context.Now,
                Cause = unwell[0].What,
                Text = $"The baseline was taken while not all was well: {string.Join("; ", unwell.Select(u => u.Words).Distinct())}. Take it again when that is mended.",
                Details = [.. People(by, command), details[0]],
            });
        }
    }

    /// <summary>
    /// The levels of the heads now are those of a line-up, if nothing is wrong; a spread beyond its limit is no hindrance, because wear makes it.
    /// </summary>
    private bool KeepLineUp(List<Unwell> unwell)
    {
        string? spread = _context.Quantities.Of(QuantityKind.RfSpread)?.Definition.Id;
        if (_anchors.Anchors.Count == 0 || unwell.Exists(u => u.Subject is null || u.Subject != spread))
        {
            return false;
        }

        _wear.Keep(_context, _anchors.ToUtcNanoseconds(_context.Now));
        return true;
    }
}
