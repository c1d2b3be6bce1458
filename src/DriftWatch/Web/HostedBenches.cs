using System.Diagnostics.CodeAnalysis;
using DriftWatch.Running;
using DriftWatch.Web.Live;

namespace DriftWatch.Web;

/// <summary>A bench with the feed that serves its live clients.</summary>
internal sealed record HostedBench(IBenchView View, LiveFeed Feed);

/// <summary>The benches of this service by id, in the order given.</summary>
internal sealed class HostedBenches
{
    private readonly Dictionary<string, HostedBench> _byId = new(StringComparer.Ordinal);
    private readonly long _startStamp;

    public HostedBenches(IReadOnlyList<HostedBench> benches, long startStamp, TimeProvider time, WebSettings settings)
    {
        _startStamp = startStamp;
        Time = time;
        Settings = settings;
        All = benches;
        foreach (HostedBench bench in benches)
        {
            if (!_byId.TryAdd(bench.View.Bench.Id, bench))
            {
                throw new InvalidOperationException($"Two benches are called '{bench.View.Bench.Id}'.");
            }
        }
    }

    public IReadOnlyList<HostedBench> All { get; }

    public TimeProvider Time { get; }

    public WebSettings Settings { get; }

    /// <summary>How long this process has been at it.</summary>
    public TimeSpan Watched => Time.GetElapsedTime(_startStamp);

    public bool TryGet(string id, [NotNullWhen(true)] out HostedBench? bench) => _byId.TryGetValue(id, out bench);
}
