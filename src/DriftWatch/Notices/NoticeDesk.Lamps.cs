using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices.Routes;

namespace DriftWatch.Notices;

/// <summary>Lamps and horns: they have no messages, they show who is waited for now.</summary>
internal sealed partial class NoticeDesk
{
    private readonly Dictionary<string, Waiting> _unanswered = new(StringComparer.Ordinal); // by tag

    /// <summary>Takes one line of the book. Of a tag the last line counts: a new coming takes the place of the one before.</summary>
    private void Note(AlarmTransition line)
    {
        if (line.To is not (AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged))
        {
            _unanswered.Remove(line.Tag);
            return;
        }

        Waiting? before = _unanswered.TryGetValue(line.Tag, out Waiting? known) && known.Id == line.Id ? known : null;
        _unanswered[line.Tag] = new Waiting(
            line.Id,
            line.Priority,
            before?.Since ?? line.At,
            line.To == AlarmState.Unacknowledged ? null : before?.OverAt ?? line.At,
            line.Calls || before is null ? NoticeWriter.KeyOf(line) : before.Call);
    }

    /// <summary>What a lamp is lit for, by the lines that called: a horn sounds anew for each that it has not sounded for.</summary>
    private List<string> Waited(RouteSettings lamp, EngineTime now, TimeOnly local)
    {
        List<string> calls =
        [
            .. _unanswered.Values.Where(w => w.Priority >= lamp.LeastPriority
                && (w.Priority == AlarmPriority.High || !lamp.IsQuiet(local))
                && (lamp.After == TimeSpan.Zero || (w.OverAt ?? now) - w.Since >= lamp.After)).Select(w => w.Call),
        ];
        calls.AddRange(UnstoredCalls(lamp, now, local).Select(NoticeWriter.KeyOf));
        return calls;
    }

    private void ShowLamps(EngineTime now, TimeOnly local)
    {
        foreach (NoticeLane lane in _lanes)
        {
            if (lane.Route is not LampRoute lamp)
            {
                continue;
            }

            try
            {
                lamp.Show(Waited(lane.Settings, now, local));
                lane.FailingSinceUtc = null;
            }
#pragma warning disable CA1031 // a missing chip, library or right: it is told once and tried again
            catch (Exception exception)
#pragma warning restore CA1031
            {
                string said = lamp.Words(exception).Said;
                if (lane.LastError != said)
                {
                    NoticeLog.LampFailing(_options.Logger, lane.Settings.Id, said);
                }

                lane.LastError = said;
                lane.FailingSinceUtc ??= UtcText.ToNanoseconds(_options.TimeProvider.GetUtcNow());
            }
        }
    }

    /// <summary>An alarm that nobody has answered for.</summary>
    /// <param name="Id">Of its present coming.</param>
    /// <param name="Priority">As last said.</param>
    /// <param name="Since">From when on it has waited.</param>
    /// <param name="OverAt">When its trouble was over; null while it lasts.</param>
    /// <param name="Call">The line that called last.</param>
    private sealed record Waiting(string Id, AlarmPriority Priority, EngineTime Since, EngineTime? OverAt, string Call);
}
