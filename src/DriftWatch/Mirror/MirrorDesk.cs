using DriftWatch.Storage;

namespace DriftWatch.Mirror;

/// <summary>The mirrors of one bench, each on its own: a slow or dead server holds up none of the others, nor the bench.</summary>
internal sealed class MirrorDesk(BenchStore store, MirrorLaneOptions options) : IAsyncDisposable
{
    private readonly SemaphoreSlim _changing = new(1, 1);
    private volatile IReadOnlyList<MirrorLane> _lanes = [];

    /// <summary>In the order of the bench file.</summary>
    public IReadOnlyList<MirrorReport> Reports => [.. _lanes.Select(l => l.Report)];

    /// <summary>Puts the mirrors of a bench file in force: those that changed begin anew from where they were, the others go on.</summary>
    public async Task UseAsync(string bench, IReadOnlyList<MirrorSettings> mirrors)
    {
        await _changing.WaitAsync();
        try
        {
            List<MirrorLane> going = [.. _lanes.Where(l => l.Bench == bench && mirrors.Contains(l.Report.Settings with { Line = LineOf(l) }))];
            foreach (MirrorLane over in _lanes.Except(going))
            {
                await over.DisposeAsync();
            }

            var lanes = new List<MirrorLane>();
            foreach (MirrorSettings settings in mirrors)
            {
                if (going.Find(l => l.Report.Settings.Id == settings.Id) is { } same)
                {
                    lanes.Add(same);
                    continue;
                }

                var lane = new MirrorLane(store, bench, settings, options);
                lane.Start();
                lanes.Add(lane);
            }

            _lanes = lanes;
        }
        finally
        {
            _changing.Release();
        }

        // A mirror that only stands on another line of the file is the same.
        int LineOf(MirrorLane lane) => mirrors.FirstOrDefault(m => m.Id == lane.Report.Settings.Id)?.Line ?? lane.Report.Settings.Line;
    }

    public async ValueTask DisposeAsync()
    {
        await Task.WhenAll(_lanes.Select(l => l.DisposeAsync().AsTask()));
        _lanes = [];
        _changing.Dispose();
    }
}
