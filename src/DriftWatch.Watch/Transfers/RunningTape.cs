using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Measurement.Units;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Transfers;

/// <summary>
/// Where the tape of the run that was entered stands, as far as judging has seen it: by the newest reading of its counter and the time
/// since, or by the time since the run began.
/// </summary>
internal sealed class RunningTape
{
    private EntryCommand? _began;

    public void Begins(EntryCommand began) => _began = began;

    public void Ends() => _began = null;

    /// <param name="context">Whose channels count.</param>
    /// <param name="utc">Nanoseconds since 1970; what began before the run did is placed at its beginning.</param>
    /// <returns>Seconds to the millisecond; null where no run goes on.</returns>
    public TapePlace? At(WatchContext context, long utc)
    {
        if (_began is null)
        {
            return null;
        }

        var began = new Said<RunBegan>(_began);
        ChannelWatch? counter = context.Find(began.Body.Channel);
        (long, double)[] newest = counter is { HasRead: true }
            ? [(context.Desk.Utc(counter.LastValidAt), Unit.Parse(counter.Definition.Unit).Convert(counter.LastValue, Unit.Parse("s")))]
            : [];
        TapePlace place = new TapePlaces(began, newest).At(Math.Max(utc, _began.AboutUtc));
        return place with { Seconds = Math.Round(place.Seconds, 3) };
    }

    public void Sync(StateArchive archive)
    {
        byte[]? began = _began is not null && archive.IsWriting ? PayloadJson.ToUtf8(EngineInput.OfCommand(default, _began)) : null;
        archive.Sync(ref began);
        if (!archive.IsWriting)
        {
            _began = began is null ? null : (EntryCommand)PayloadJson.FromUtf8(InputKind.Command, began);
        }
    }
}
