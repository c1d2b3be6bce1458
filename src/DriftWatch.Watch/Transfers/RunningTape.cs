using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Measurement.Units;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Transfers;

/// <summary>
/// Where the tape of the run that was entered stands, as far as judging has seen it: by its counter, read between its readings of the
/// last hour, or by the time since the run began.
/// </summary>
internal sealed class RunningTape
{
    /// <summary>Kept apart by less than what counts as silence, so that between two of them the counter tells. Source: derived from <see cref="TapePlaces.LongestSilence"/>.</summary>
    private const long ApartNanoseconds = 4L * EngineTime.NanosecondsPerSecond;

    /// <summary>An hour: what is told of began within it, but for slow drifts. Source: our own choice.</summary>
    private const int MostReadings = 900;

    private readonly List<(long Utc, double Seconds)> _readings = [];
    private EntryCommand? _began;
    private string? _counter;
    private (long Utc, double Seconds)? _newest;

    public bool IsOf(Guid? pass) => _began is { } began && began.Pass == pass;

    public void Begins(EntryCommand began)
    {
        (_began, _counter) = (began, ((RunBegan)began.Body).Channel);
        Forget();
    }

    public void Ends()
    {
        (_began, _counter) = (null, null);
        Forget();
    }

    /// <summary>A channel has a new value; that of the run's counter is kept.</summary>
    public void Read(WatchContext context, ChannelWatch channel)
    {
        if (_counter is null || channel.Definition.Id != _counter || !channel.HasValue)
        {
            return;
        }

        (long Utc, double Seconds) reading = (context.Desk.Utc(context.Now), Unit.Parse(channel.Definition.Unit).Convert(channel.LastValue, Unit.Parse("s")));
        _newest = reading;
        if (_readings.Count == 0 || reading.Utc - _readings[^1].Utc >= ApartNanoseconds)
        {
            _readings.Add(reading);
            if (_readings.Count > MostReadings)
            {
                _readings.RemoveAt(0);
            }
        }
    }

    /// <param name="utc">Nanoseconds since 1970; what began before the run did is placed at its beginning.</param>
    /// <returns>Seconds to the millisecond; null where no run goes on.</returns>
    public TapePlace? At(long utc)
    {
        if (_began is null)
        {
            return null;
        }

        IEnumerable<(long Utc, double Seconds)> known = _newest is { } newest && newest.Utc > _readings[^1].Utc ? _readings.Append(newest) : _readings;
        TapePlace place = new TapePlaces(new Said<RunBegan>(_began), known).At(Math.Max(utc, _began.AboutUtc));
        return place with { Seconds = Math.Round(place.Seconds, 3) };
    }

    public void Sync(StateArchive archive)
    {
        byte[]? began = _began is not null && archive.IsWriting ? PayloadJson.ToUtf8(EngineInput.OfCommand(default, _began)) : null;
        archive.Sync(ref began);
        if (!archive.IsWriting)
        {
            _began = began is null ? null : (EntryCommand)PayloadJson.FromUtf8(InputKind.Command, began);
            _counter = ((RunBegan?)_began?.Body)?.Channel;
        }

        int count = archive.SyncCount(_readings.Count);
        for (int i = 0; i < count; i++)
        {
            (long utc, double seconds) = archive.IsWriting ? _readings[i] : default;
            archive.Sync(ref utc);
            archive.Sync(ref seconds);
            if (!archive.IsWriting)
            {
                _readings.Add((utc, seconds));
            }
        }

        (long newestUtc, double? newest) = (_newest?.Utc ?? 0, _newest?.Seconds);
        archive.Sync(ref newestUtc);
        archive.Sync(ref newest);
        _newest = newest is { } known ? (newestUtc, known) : null;
    }

    private void Forget()
    {
        _readings.Clear();
        _newest = null;
    }
}
