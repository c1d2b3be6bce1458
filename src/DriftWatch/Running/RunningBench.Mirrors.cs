using DriftWatch.Configuration;
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
}
