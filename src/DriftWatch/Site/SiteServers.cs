using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Site;

/// <summary>A server by the language that it is asked in.</summary>
internal static class SiteServers
{
    public static ISiteServer Open(CountWay language, LineServer server, string bucket) => language switch
    {
        CountWay.Promql => new PromqlSite(server),
        CountWay.Influxql => new InfluxqlSite(server, bucket),
        CountWay.Flux => new FluxSite(server, bucket),
        _ => throw new ArgumentOutOfRangeException(nameof(language), language, "no language to ask in"),
    };
}
