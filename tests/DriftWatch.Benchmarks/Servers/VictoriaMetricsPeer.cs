using System.Globalization;
using System.Text.Json;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Servers;

/// <summary>Debian's victoria-metrics: a line's fields become the metrics bench_FIELD.</summary>
internal sealed class VictoriaMetricsPeer : ServerPeer
{
    public VictoriaMetricsPeer()
        : base("victoria-metrics", "/usr/bin/victoria-metrics", "victoria-metrics")
    {
        Process = new ChildProcess(
            Program,
            $"-storageDataPath={Folder.Path}",
            $"-httpListenAddr=127.0.0.1:{Port}",
            "-retentionPeriod=100y",
            "-search.latencyOffset=0s",
            "-search.disableCache",
            "-loggerLevel=ERROR");
        WaitUntilUp("/health");
    }

    public override long Size => TempFolder.SizeOf(Folder.At("data"));

    public override string SizeNote => $"its index of {TempFolder.SizeOf(Folder.At("indexdb")):N0} bytes not counted";

    public override void Flush() => Get("/internal/force_flush");

    public override long Count(DateTimeOffset from, DateTimeOffset to)
    {
        long seconds = (long)Math.Ceiling((to - from).TotalSeconds) + 60;
        string query = Uri.EscapeDataString($"sum(count_over_time({{__name__=~\"bench_.*\"}}[{seconds}s]))");
        using JsonDocument answer = JsonDocument.Parse(Get($"/api/v1/query?query={query}&time={Seconds(to)}"));
        return long.Parse(answer.RootElement.GetProperty("data").GetProperty("result")[0].GetProperty("value")[1].GetString()!, CultureInfo.InvariantCulture);
    }

    public override string Buckets(string field, DateTimeOffset from, DateTimeOffset to, TimeSpan step)
    {
        // A point stands for the window before it, so the first comes a step after the beginning.
        string query = Uri.EscapeDataString($"rollup(bench_{field}[{step.TotalMilliseconds:0}ms])");
        return Get($"/api/v1/query_range?query={query}&start={Seconds(from + step)}&end={Seconds(to)}&step={step.TotalMilliseconds:0}ms&nocache=1");
    }

    public override int CountBuckets(string answer)
    {
        using JsonDocument json = JsonDocument.Parse(answer);
        JsonElement result = json.RootElement.GetProperty("data").GetProperty("result");
        return result.GetArrayLength() == 3 ? result[0].GetProperty("values").GetArrayLength() : 0;
    }

    public override void Settle()
    {
        Get("/internal/force_merge");
        Waiting.For(TimeSpan.FromSeconds(1));
        Process!.Stop(TimeSpan.FromSeconds(60));
    }
}
