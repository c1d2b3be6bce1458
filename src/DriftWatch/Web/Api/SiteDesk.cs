using System.Collections.Concurrent;
using DriftWatch.Mirror;
using DriftWatch.Notices.Routes;
using DriftWatch.Site;

namespace DriftWatch.Web.Api;

/// <summary>What a mirror's server tells of all benches: asked once for however many look, and not more often than <see cref="Holds"/>.</summary>
internal sealed class SiteDesk(TimeProvider time)
{
    /// <summary>Benches tell how they stand every 15 s. Source: our own choice.</summary>
    private static readonly TimeSpan Holds = TimeSpan.FromSeconds(5);

    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(20);

    private readonly ConcurrentDictionary<MirrorSettings, Asked> _asked = new();
    private readonly ConcurrentDictionary<MirrorSettings, SiteMemory> _memories = new();

    /// <exception cref="SecretException">Its URL or key can't be had.</exception>
    /// <exception cref="HttpRequestException">The server can't be asked, or says no.</exception>
    /// <exception cref="FormatException">It answers what nobody can read.</exception>
    /// <exception cref="TaskCanceledException">It does not answer.</exception>
    public async Task<SiteAnswer> ReadAsync(MirrorSettings settings)
    {
        Asked asked = _asked.AddOrUpdate(settings, _ => Ask(settings), (_, known) => time.GetElapsedTime(known.Stamp) < Holds || !known.Answer.IsCompleted ? known : Ask(settings));
        return await asked.Answer;
    }

    private Asked Ask(MirrorSettings settings)
    {
        var answer = new Lazy<Task<SiteAnswer>>(() => AskAsync(settings)); // one that loses the race is never asked
        return new Asked(time.GetTimestamp(), answer);
    }

    private async Task<SiteAnswer> AskAsync(MirrorSettings settings)
    {
        await Task.Yield();
        using var limit = new CancellationTokenSource(Longest, time);
        using var way = new MirrorConnection(settings, time);
        using ISiteServer server = SiteServers.Open(settings.Counts, way.Server, settings.Bucket);
        return SiteAnswer.Of(await new SiteView(server, time, _memories.GetOrAdd(settings, _ => new SiteMemory(time))).ReadAsync(limit.Token), time.GetUtcNow());
    }

    private sealed class Asked(long stamp, Lazy<Task<SiteAnswer>> answer)
    {
        public long Stamp { get; } = stamp;

        public Task<SiteAnswer> Answer => answer.Value;
    }
}
