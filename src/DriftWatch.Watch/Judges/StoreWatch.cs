using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// A store that takes nothing is trouble as any other is, and its finding tells from when to when. The service says when it fails
/// and when it takes again; a process that died meanwhile can't, but the next one began with a store that opened.
/// </summary>
internal sealed class StoreWatch
{
    private OpenFinding? _finding;

    public void OnFails(WatchContext context, StoreFailsCommand said)
    {
        _finding ??= context.Desk.Raise(new FindingFacts
        {
            Kind = FindingKinds.StoreFailing,
            Severity = Severity.Alarm,
            Start = context.Now - said.For,
            Value = said.For.TotalSeconds,
            Limit = StoreFailsCommand.WorthSaying.TotalSeconds,
            Unit = "s",
            LimitSource = "common practice, no source (the store's own trouble)",
            Cause = said.Trouble,
            Text = $"The store takes nothing. {said.Text.TrimEnd('.')}. What is read and judged is held in memory, and is lost if the service or its computer stops.",
        });
    }

    public void OnTakes(WatchContext context, StoreTakesCommand said)
    {
        string lost = said.Lost > 0 ? $"{said.Lost} readings are lost, because memory had no room for them" : "nothing is lost";
        End(
            context, "store-takes",
            seconds => $"The store takes readings again after {Say.Length(seconds)} in which it took none: {said.Held} inputs that were held in memory are stored, {lost}.",
            new FindingDetail("held", said.Held), new FindingDetail("lost", said.Lost));
    }

    /// <summary>A process began, so its store opened; what the one before held in memory is not known.</summary>
    public void BeginWatching(WatchContext context) => End(
        context, "started-again", _ => "The service was started again and its store takes readings; what was not stored by then is lost.");

    public void Sync(StateArchive archive, FindingDesk desk) => desk.Sync(archive, ref _finding);

    private void End(WatchContext context, string endedBy, Func<double, string> words, params ReadOnlySpan<FindingDetail> more)
    {
        if (_finding is null)
        {
            return;
        }

        FindingLine line = _finding.Line;
        double seconds = (context.Now - line.Start).TotalSeconds;
        context.Desk.End(
            _finding,
            new FindingFacts
            {
                Kind = line.Kind,
                Severity = line.Severity,
                Start = line.Start,
                Value = seconds,
                Limit = line.Limit,
                Unit = line.Unit,
                LimitSource = line.LimitSource,
                Cause = line.Cause,
                Text = words(seconds),
                Details = [new FindingDetail("endedBy", null, endedBy), .. more],
            },
            context.Now);
        _finding = null;
    }
}
