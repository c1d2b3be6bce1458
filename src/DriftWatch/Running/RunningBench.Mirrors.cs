using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Mirror;

namespace DriftWatch.Running;

/// <summary>The servers that are kept level with this bench's store.</summary>
internal sealed partial class RunningBench
{
    private readonly MirrorDesk _mirrors;

    IReadOnlyList<MirrorReport> IBenchView.Mirrors => _mirrors.Reports;

    private async Task PutMirrorsInForceAsync(LoadedBench loaded)
    {
        foreach (FileMistake warning in loaded.Mirrors.Warnings)
        {
            RunningLog.FileWarning(_logger, warning.ToString());
        }

        await _mirrors.UseAsync(loaded.Definition.Id, loaded.Mirrors.Mirrors);
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
