using System.Text.Json;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Servers;

/// <summary>Debian's influxdb 1.6 with a configuration of its own; its files are compacted as soon as writing rests.</summary>
internal sealed class InfluxPeer : ServerPeer
{
    private readonly Size _size;

    public InfluxPeer(Size size)
        : base("influxdb", "/usr/bin/influxd", "influxdb")
    {
        _size = size;
        string configuration = Folder.At("influxdb.conf");
        File.WriteAllText(configuration, $"""
            reporting-disabled = true
            bind-address = "127.0.0.1:{Waiting.FreePort()}"

            [meta]
            dir = "{Folder.At("meta")}"

            [data]
            dir = "{Folder.At("data")}"
            wal-dir = "{Folder.At("wal")}"
            query-log-enabled = false
            cache-snapshot-write-cold-duration = "2s"
            compact-full-write-cold-duration = "2s"

            [http]
            bind-address = "127.0.0.1:{Port}"
            log-enabled = false

            [monitor]
            store-enabled = false
            """);
        Process = new ChildProcess(Program, "-config", configuration);
        WaitUntilUp("/ping");
        Post("/query?q=" + Uri.EscapeDataString("CREATE DATABASE bench"));
    }

    /// <summary>Blocks and what still waits in its log.</summary>
    public override long Size =>
        Directory.EnumerateFiles(Folder.At("data"), "*.tsm", SearchOption.AllDirectories).Sum(f => new FileInfo(f).Length)
        + TempFolder.SizeOf(Folder.At("wal"));

    public override string SizeNote => "its preallocated series file not counted";

    public override void Flush()
    {
        // What was acknowledged can be read.
    }

    public override long Count(DateTimeOffset from, DateTimeOffset to)
    {
        using JsonDocument answer = JsonDocument.Parse(Get("/query?db=bench&q=" + Uri.EscapeDataString("SELECT count(*) FROM bench")));
        return FirstSeries(answer).GetProperty("values")[0].EnumerateArray().Skip(1).Sum(count => count.GetInt64());
    }

    public override string Buckets(string field, DateTimeOffset from, DateTimeOffset to, TimeSpan step) =>
        Get("/query?db=bench&epoch=ms&q=" + Uri.EscapeDataString(
            $"SELECT min({field}), max({field}), mean({field}) FROM bench WHERE time >= {Milliseconds(from)}ms AND time < {Milliseconds(to)}ms GROUP BY time({step.TotalMilliseconds:0}ms)"));

    public override int CountBuckets(string answer)
    {
        using JsonDocument json = JsonDocument.Parse(answer);
        return FirstSeries(json).GetProperty("values").GetArrayLength();
    }

    /// <summary>Waits until compaction rests: its log is empty and its files have not changed for a while.</summary>
    public override void Settle()
    {
        int quiet = _size == Bed.Size.Full ? 8 : 2;
        long last = -1;
        int same = 0;
        for (int second = 0; second < 120 && same < quiet; second++)
        {
            Waiting.For(TimeSpan.FromSeconds(1));
            long now = SizeOrNothing();
            same = now == last ? same + 1 : 0;
            last = now;
        }

        Process!.Stop(TimeSpan.FromSeconds(60));
    }

    private static JsonElement FirstSeries(JsonDocument answer) =>
        answer.RootElement.GetProperty("results")[0].GetProperty("series")[0];

    private long SizeOrNothing()
    {
        try
        {
            return Size;
        }
        catch (IOException)
        {
            return -1; // a file went away while its folder was read
        }
    }
}
