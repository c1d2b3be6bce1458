using DriftWatch.Storage.Mirror;

namespace DriftWatch.Mirror;

/// <summary>What is sent beside readings: the book of alarms, findings, passes of tapes, drifts, and how the bench stands.</summary>
internal sealed partial class MirrorLane
{
    private const int RowsAtOnce = 1000;

    /// <summary>Source: our own choice; a site's view is old after four of them.</summary>
    private static readonly TimeSpan StandingEvery = TimeSpan.FromSeconds(15);

    /// <summary>Judgement tells drifts once a minute.</summary>
    private static readonly TimeSpan DriftsEvery = TimeSpan.FromMinutes(1);

    /// <summary>Of a server that has means of a minute: each minute they would be most of what it keeps. Source: derived, see the README.</summary>
    private static readonly TimeSpan AllDriftsEvery = TimeSpan.FromMinutes(15);

    private TimeSpan _standingDue;
    private TimeSpan _allDriftsDue;
    private TimeSpan _driftsDue;

    /// <returns>Whether there may be more.</returns>
    private async Task<bool> SendEventsAsync()
    {
        bool more = false;
        int most = Math.Min(RowsAtOnce, _mostLines);
        foreach (EventTrail trail in _events)
        {
            if (trail.Read(most, _tags) is { } batch)
            {
                if (batch.Lines > 0 && !await SendAsync(batch))
                {
                    return false;
                }

                trail.Took(batch.Through, Elapsed);
                more |= batch.Lines >= most;
            }
        }

        if (Elapsed >= _standingDue && _options.Standing() is { } standing)
        {
            _standingDue = Elapsed + StandingEvery;
            var text = new LineText();
            long utcMilliseconds = NowUtc / Measurement.Time.EngineTime.NanosecondsPerMillisecond;
            EventLines.Write(standing, Bench, _tags, text, utcMilliseconds);
            if (Elapsed >= _driftsDue)
            {
                _driftsDue = Elapsed + DriftsEvery;
                bool all = _settings.Detail != MirrorDetail.Minute || Elapsed >= _allDriftsDue;
                _allDriftsDue = all ? Elapsed + AllDriftsEvery : _allDriftsDue;
                EventLines.WriteDrifts(standing, Bench, _tags, text, utcMilliseconds, all);
            }

            int lines = text.Lines;
            await SendAsync(new Batch(0, 0, text.Take(), lines, 0, 0)); // of this moment only: one that is not taken is not sent again
        }

        return more;
    }
}
