using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Queries;

namespace DriftWatch.SystemTests.Mirror;

/// <summary>Holds what a server says it has against a bench's store.</summary>
internal static class StoreAgainstServer
{
    /// <summary>The store against the server, value by value at the server's milliseconds; an emitter's values have fewer digits than any server keeps.</summary>
    public static async Task<(int Stored, int Held, int Doubled)> CompareAsync(SeriesServer server, string folder)
    {
        using var reader = new BenchReader(folder);
        AnchorTable anchors = reader.ReadAnchors();
        Dictionary<(string Channel, long At), List<double>> held = await server.ValuesAsync();
        Dictionary<(string Channel, long At), List<double>> qualities = await server.ValuesAsync("quality");
        int stored = 0;
        foreach ((string channel, int key) in reader.ChannelKeys())
        {
            long newest = qualities.Keys.Where(k => k.Channel == channel).Max(k => k.At);
            foreach (StoredReading reading in reader.ReadSeries(key, EngineTime.MinValue, EngineTime.MaxValue).Readings)
            {
                long at = anchors.ToUtcNanoseconds(reading.At) / 1_000_000;
                if (reading.Reading.IsFault && at > newest)
                {
                    continue; // the wire is out, and goes on being: what came since the server was asked is on its way
                }

                int quality = (reading.Reading.IsFault ? (int)reading.Reading.Fault + 1 : 0) + (reading.IsLate ? 100 : 0);
                Assert.True(qualities.TryGetValue((channel, at), out List<double>? told) && told.Contains(quality), $"{channel} at {at}: quality {quality} is missing");
                if (reading.Reading.IsFault)
                {
                    Assert.False(held.ContainsKey((channel, at)), $"{channel} at {at}: a fault has a value");
                    continue;
                }

                stored++;
                Assert.True(held.TryGetValue((channel, at), out List<double>? values), $"{channel} at {at} is missing");
                Assert.All(values, v => Assert.True(Math.Abs(v - reading.Reading.Raw) <= 1e-14 * Math.Abs(reading.Reading.Raw), $"{channel} at {at}: stored {reading.Reading.Raw:R}, held {v:R}"));
            }
        }

        return (stored, held.Count, held.Values.Count(v => v.Count > 1));
    }
}
