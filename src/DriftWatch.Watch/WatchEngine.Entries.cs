using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch;

public sealed partial class WatchEngine
{
    /// <summary>
    /// What is written into the book afterwards changes no judgement; an act counts as one of now for so long.
    /// Source: our own choice, longer than any delay of a page or a line, far shorter than a tape.
    /// </summary>
    private const long StillNowNanoseconds = 60L * EngineTime.NanosecondsPerSecond;

    /// <summary>Whether an entry of the book is an act of the moment it was entered at, and so changes judgement; what is written afterwards does not.</summary>
    /// <param name="entry">Any entry.</param>
    /// <param name="enteredUtc">When it came, nanoseconds since 1970: in a log that has stood since, long before what an entry of today is about.</param>
    public static bool IsOfNow(EntryCommand entry, long enteredUtc) =>
        // A run that the machine's state begins or ends is dated where tape started or stopped, which may be long before it counts.
        entry.Body is RunBegan { Cue: RunCue.State } or RunEnded { Cue: RunCue.State } || Math.Abs(enteredUtc - entry.AboutUtc) <= StillNowNanoseconds;

    /// <summary>Judges need of an entry only whose tape it is, when the line-up ends and when and where tape runs for keeps; whether it may be is the book's matter.</summary>
    private void OnEntry(EntryCommand entry)
    {
        // The run, or the pass without one, that judging knows of is over however late that is said.
        string? transfer = entry.Transfer?.ToString("D");
        bool endsTheKnown = (entry.Body is RunEnded or PassGivenUp && _tape.IsOf(entry.Pass)) || (entry.Body is PassGivenUp && transfer is not null && transfer == _transfer);
        if (_anchors.Anchors.Count == 0 || (!endsTheKnown && !IsOfNow(entry, _anchors.ToUtcNanoseconds(_context.Now))))
        {
            return;
        }

        switch (entry.Body)
        {
            case PassOpened:
                _transfer = transfer;
                break;
            case LineUpEnded:
                TakeBaseline(BaselineStanding.Confirmed, entry.By, entry);
                break;
            case RunBegan:
                _context.Machine.ForgetLosses();
                _autoBaseline.NewPass(Watched);
                _transfer = transfer;
                _tape.Begins(entry);
                Note(FindingKinds.PassBegins, entry, $"A run of transfer {transfer} began.", new FindingDetail("transfer", null, transfer));
                break;
            case RunEnded:
                _context.Machine.ForgetLosses();
                _transfer = null;
                _tape.Ends();
                Note(FindingKinds.PassEnds, entry, $"The run of transfer {transfer} ended.", new FindingDetail("transfer", null, transfer));
                break;
            case PassGivenUp:
                _transfer = null;
                _tape.Ends();
                break;
        }
    }

    /// <summary>Takes up a tape in its middle: nothing of it is told again, for it was told when it happened.</summary>
    private void OnGoesOn(GoesOnCommand lent)
    {
        _transfer = lent.Pass?.Transfer?.ToString("D");
        if (lent.Pass is { Body: RunBegan } began)
        {
            _tape.Begins(began);
        }

        foreach (TakenBaseline baseline in lent.Baselines)
        {
            foreach (BaselineValue value in baseline.Values)
            {
                if (_context.Find(value.Channel) is { } channel && channel.Definition.Unit == value.Unit)
                {
                    channel.TakeBaseline(value, baseline.Standing);
                }
            }

            _autoBaseline.TakenUp(baseline.Standing);
        }
    }
}
