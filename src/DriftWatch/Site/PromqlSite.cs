using System.Globalization;
using System.Text.Json;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Site;

/// <summary>By PromQL over HTTP: a field is a metric of its own, named measurement and field.</summary>
internal sealed class PromqlSite(LineServer server) : ISiteServer
{
    public async Task<IReadOnlyList<SiteRow>> NewestAsync(string measurement, IReadOnlyList<string> fields, TimeSpan within, CancellationToken cancel)
    {
        // A field a question: whether a function keeps the name of a metric differs from server to server.
        var rows = new SeriesRows();
        foreach (string field in fields)
        {
            string query = string.Create(CultureInfo.InvariantCulture, $"last_over_time({measurement}_{field}[{(long)within.TotalSeconds}s])");
            using JsonDocument answer = await SiteAnswers.AskAsync(server, "/api/v1/query?nocache=1&query=" + Uri.EscapeDataString(query), cancel);
            SiteAnswers.Read(answer, root =>
            {
                foreach (JsonElement one in root.GetProperty("data").GetProperty("result").EnumerateArray())
                {
                    var tags = one.GetProperty("metric").EnumerateObject().Where(t => t.Name != "__name__").ToDictionary(t => t.Name, t => t.Value.GetString() ?? "", StringComparer.Ordinal);
                    rows.Put(tags, field, double.Parse(one.GetProperty("value")[1].GetString()!, CultureInfo.InvariantCulture));
                }
            });
        }

        return rows.All;
    }

    public void Dispose() => server.Dispose();
}
