using DriftWatch.Measurement.Alarms;

namespace DriftWatch.Notices;

/// <summary>Mirrors that are behind: told once, and once that it is over, by what takes medium priority and not in its quiet hours.</summary>
internal sealed partial class NoticeDesk
{
    private readonly HashSet<string> _toldOfMirrors = new(StringComparer.Ordinal); // ids of routes

    private void WatchMirrors(TimeOnly local, long utc)
    {
        string? trouble = _options.MirrorTrouble();
        foreach (NoticeLane lane in _lanes.Where(l => l.Plan is not null && l.Settings.LeastPriority <= AlarmPriority.Medium && !l.Settings.IsQuiet(local)))
        {
            string route = lane.Settings.Id;
            if (trouble is not null && _toldOfMirrors.Add(route))
            {
                lane.AddDirect(_writer.MirrorBehind(NoticeWriter.IdOf(_writer.Bench, route, $"mirror-behind/{utc}"), trouble, utc));
            }
            else if (trouble is null && _toldOfMirrors.Remove(route) && !lane.DropDirect(NoticeKind.MirrorBehind))
            {
                lane.AddDirect(_writer.MirrorLevel(NoticeWriter.IdOf(_writer.Bench, route, $"mirror-level/{utc}"), utc));
            }
        }
    }
}
