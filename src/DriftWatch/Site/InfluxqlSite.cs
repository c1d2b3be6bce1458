using System.Globalization;
using System.Text.Json;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Site;

/// <summary>By InfluxQL over HTTP.</summary>
internal sealed class InfluxqlSite(LineServer server, string database) : ISiteServer
{
    public async Task<IReadOnlyList<SiteRow>> NewestAsync(string measurement, IReadOnlyList<string> fields, TimeSpan within, CancellationToken cancel)
    {
        string query = string.Create(
            CultureInfo.InvariantCulture,
            $"SELECT {string.Join(", ", fields.Select(f => $"last(\"{f}\") AS \"{f}\""))} FROM \"{measurement}\" WHERE time > now() - {(long)within.TotalSeconds}s GROUP BY *");
        using JsonDocument answer = await SiteAnswers.AskAsync(server, $"/query?db={Uri.EscapeDataString(database)}&epoch=ms&q={Uri.EscapeDataString(query)}", cancel);
        var rows = new List<SiteRow>();
        SiteAnswers.Read(answer, root =>
        {
            JsonElement result = root.GetProperty("results")[0];
            if (result.TryGetProperty("error", out JsonElement error))
            {
                throw new FormatException($"the server refuses the question: {error.GetString()}");
            }

            foreach (JsonElement series in result.TryGetProperty("series", out JsonElement all) ? all.EnumerateArray().ToArray() : [])
            {
                string[] columns = [.. series.GetProperty("columns").EnumerateArray().Select(c => c.GetString()!)];
                JsonElement values = series.GetProperty("values")[0];
                rows.Add(new SiteRow(
                    series.GetProperty("tags").EnumerateObject().Where(t => t.Value.GetString() is { Length: > 0 }).ToDictionary(t => t.Name, t => t.Value.GetString()!, StringComparer.Ordinal),
                    columns.Select((name, i) => (name, Value: values[i])).Where(c => c.name != "time" && c.Value.ValueKind == JsonValueKind.Number)
                        .ToDictionary(c => c.name, c => c.Value.GetDouble(), StringComparer.Ordinal)));
            }
        });
        return rows;
    }

    public void Dispose() => server.Dispose();
}
