using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Mirror;

namespace DriftWatch.Running;

/// <summary>The servers that are kept level with this bench's store.</summary>
internal sealed partial class RunningBench
{
    private readonly MirrorDesk _mirrors;

    IReadOnlyList<MirrorReport> IBenchView.Mirrors => _mirrors.Reports;

    private MirrorDesk NewMirrorDesk() => new(_store, new MirrorLaneOptions
    {
        TimeProvider = _options.TimeProvider,
        Logger = _loggers.CreateLogger("DriftWatch.Mirror"),
        Standing = Standing,
        Say = Say,
        SaidTrouble = id => FailingMirrors.FirstOrDefault(m => m.Id == id).Trouble,
    });

    /// <summary>The mirrors that are said to fail, and by what.</summary>
    private IEnumerable<(string Id, string Trouble)> FailingMirrors => _open.Where(l => l.Kind == FindingKinds.MirrorFailing)
        .SelectMany(l => l.Details.Where(d => d.Name == "mirror").Select(d => (d.Word!, l.Cause)));

    /// <summary>What the service itself has to say goes the way of all inputs; nobody waits for its answer.</summary>
    private void Say(Command command) => _ = _pipeline.EnterAsync(EngineInput.OfCommand(_clock.Now, command));

    private async Task PutMirrorsInForceAsync(LoadedBench loaded)
    {
        foreach (FileMistake warning in loaded.Mirrors.Warnings)
        {
            RunningLog.FileWarning(_logger, warning.ToString());
        }

        await _mirrors.UseAsync(loaded.Definition.Id, loaded.Mirrors.Mirrors);
        _ = EndRemovedMirrorsAsync([.. loaded.Mirrors.Mirrors.Select(m => m.Id)]);
    }

    /// <summary>What one that is removed said last may be judged only now, so it is looked at more than once.</summary>
    private async Task EndRemovedMirrorsAsync(HashSet<string> kept)
    {
        foreach (double seconds in (double[])[0, 2, 10])
        {
            await Task.Delay(TimeSpan.FromSeconds(seconds), _options.TimeProvider);
            foreach ((string gone, _) in _stopped ? [] : FailingMirrors.Where(m => !kept.Contains(m.Id)))
            {
                Say(MirrorLane.Takes(gone, older: null, _options.TimeProvider));
            }
        }
    }

    private BenchStanding? Standing()
    {
        IReadOnlyList<AlarmTransition> alarms = OpenAlarms;
        return new BenchStanding(
            State,
            alarms.Count(a => a.IsActive),
            alarms.Count(a => a.To is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged),
            _drifts.Items.Max(d => d.UsedShare),
            Channels.Count(c => c.Channel.Kind == ChannelKind.Series && c.Value is null))
        {
            Drifts = _drifts.Items,
        };
    }
}
