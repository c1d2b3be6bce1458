using System.Globalization;
using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Site;

/// <summary>By Flux over HTTP: a field of a series is a table of its own.</summary>
internal sealed class FluxSite(LineServer server, string bucket) : ISiteServer
{
    /// <summary>Columns that belong to the language and are no tags.</summary>
    private static readonly HashSet<string> Own = new(StringComparer.Ordinal) { "result", "table" };

    public async Task<IReadOnlyList<SiteRow>> NewestAsync(string measurement, IReadOnlyList<string> fields, TimeSpan within, CancellationToken cancel)
    {
        string question = string.Create(
            CultureInfo.InvariantCulture,
            $"from(bucket: {FluxText.Quoted(bucket)}) |> range(start: -{(long)within.TotalSeconds}s) "
            + $"|> filter(fn: (r) => r._measurement == {FluxText.Quoted(measurement)} and ({string.Join(" or ", fields.Select(f => $"r._field == {FluxText.Quoted(f)}"))})) |> last()");
        var rows = new SeriesRows();
        foreach (IReadOnlyDictionary<string, object> row in await server.AskFluxAsync(question, cancel))
        {
            if (!row.TryGetValue("_field", out object? field) || !row.TryGetValue("_value", out object? value))
            {
                throw new FormatException("the server answers a question with what is no answer to it");
            }

            if (value is double or long or ulong)
            {
                rows.Put(
                    row.Where(c => !c.Key.StartsWith('_') && !Own.Contains(c.Key) && c.Value is string { Length: > 0 }).ToDictionary(c => c.Key, c => (string)c.Value, StringComparer.Ordinal),
                    (string)field,
                    Convert.ToDouble(value, CultureInfo.InvariantCulture));
            }
        }

        return rows.All;
    }

    public void Dispose() => server.Dispose();
}
