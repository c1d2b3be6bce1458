using System.Globalization;
using System.Text.Json;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Mirror;

/// <summary>Asks a server how many readings of a bench it holds in a window of time, in its own language.</summary>
internal static class ServerCounts
{
    /// <returns>Null where it is not asked.</returns>
    /// <exception cref="HttpRequestException">It can't be asked, or says no.</exception>
    /// <exception cref="FormatException">It answers what nobody can read.</exception>
    public static async Task<long?> AskAsync(LineServer server, MirrorSettings settings, string bench, long fromUtcMilliseconds, long toUtcMilliseconds, CancellationToken cancel)
    {
        if (settings.Counts == CountWay.None)
        {
            return null;
        }

        if (settings.Counts == CountWay.Flux)
        {
            return await OfFluxAsync(server, settings, bench, fromUtcMilliseconds, toUtcMilliseconds, cancel);
        }

        string path = settings.Counts == CountWay.Promql
            ? Promql(settings.Site, bench, fromUtcMilliseconds, toUtcMilliseconds)
            : Influxql(settings, bench, fromUtcMilliseconds, toUtcMilliseconds);
        string text = await server.AskAsync(path, cancel);
        try
        {
            using JsonDocument answer = JsonDocument.Parse(text);
            return settings.Counts == CountWay.Promql ? OfPromql(answer.RootElement) : OfInfluxql(answer.RootElement);
        }
        catch (Exception exception) when (exception is JsonException or KeyNotFoundException or InvalidOperationException or IndexOutOfRangeException or FormatException)
        {
            throw new FormatException($"it answers a count with what is none: {(text.Length > 120 ? text[..120] + "…" : text)}", exception);
        }
    }

    /// <summary>Since when the server runs, in its own words: another answer than before means that it was started anew.</summary>
    /// <returns>Null where it does not say.</returns>
    /// <exception cref="HttpRequestException">It can't be asked, or says no.</exception>
    /// <exception cref="FormatException">It answers what nobody can read.</exception>
    public static async Task<string?> RunsSinceAsync(LineServer server, MirrorSettings settings, CancellationToken cancel)
    {
        if (settings.Counts is CountWay.Promql or CountWay.Flux)
        {
            // The name that the exposition format recommends for it.
            string metrics = await server.AskAsync("/metrics", cancel);
            return metrics.Split('\n').FirstOrDefault(l => l.StartsWith("process_start_time_seconds ", StringComparison.Ordinal));
        }

        try
        {
            using JsonDocument answer = JsonDocument.Parse(await server.AskAsync("/query?q=" + Uri.EscapeDataString("SHOW DIAGNOSTICS"), cancel));
            JsonElement result = answer.RootElement.GetProperty("results")[0];
            foreach (JsonElement series in result.TryGetProperty("series", out JsonElement all) ? all.EnumerateArray().ToArray() : [])
            {
                int started = series.GetProperty("columns").EnumerateArray().ToList().FindIndex(c => c.GetString() == "started");
                if (started >= 0)
                {
                    return series.GetProperty("values")[0][started].ToString();
                }
            }

            return null;
        }
        catch (Exception exception) when (exception is JsonException or KeyNotFoundException or InvalidOperationException or IndexOutOfRangeException or FormatException)
        {
            throw new FormatException("it answers what nobody can read when it is asked since when it runs", exception);
        }
    }

    /// <summary>
    /// A range ends at its instant, included, and begins after the instant so long before; times have milliseconds. A tag that is not there equals
    /// the empty word, in both languages: two sites may have a bench of one name.
    /// </summary>
    private static string Promql(string? site, string bench, long from, long to) => string.Create(
        CultureInfo.InvariantCulture,
        $"/api/v1/query?nocache=1&time={(to - 1) / 1000.0:0.000}&query={Uri.EscapeDataString($"sum(count_over_time({ReadingLines.Measurement}_{ReadingLines.Quality}{{bench={Quoted(bench, '"')},site={Quoted(site ?? "", '"')}}}[{to - from}ms]))")}");

    private static string Influxql(MirrorSettings settings, string bench, long from, long to) => string.Create(
        CultureInfo.InvariantCulture,
        $"/query?db={Uri.EscapeDataString(settings.Bucket)}&epoch=ms&q={Uri.EscapeDataString($"SELECT count(\"{ReadingLines.Quality}\") FROM \"{ReadingLines.Measurement}\" WHERE \"bench\" = {Quoted(bench, '\'')} AND \"site\" = {Quoted(settings.Site ?? "", '\'')} AND time >= {from}ms AND time < {to}ms")}");

    /// <summary>A range begins at its start, included, and ends before its stop.</summary>
    private static async Task<long> OfFluxAsync(LineServer server, MirrorSettings settings, string bench, long from, long to, CancellationToken cancel)
    {
        string question = $"from(bucket: {FluxText.Quoted(settings.Bucket)}) |> range(start: {FluxText.Time(from)}, stop: {FluxText.Time(to)}) "
            + $"|> filter(fn: (r) => r._measurement == {FluxText.Quoted(ReadingLines.Measurement)} and r._field == {FluxText.Quoted(ReadingLines.Quality)} and r.bench == {FluxText.Quoted(bench)} and {(settings.Site is { } site ? "r.site == " + FluxText.Quoted(site) : "not exists r.site")}) |> group() |> count()";
        IReadOnlyList<IReadOnlyDictionary<string, object>> rows = await server.AskFluxAsync(question, cancel);
        return rows.Count == 0 ? 0
            : rows[0].TryGetValue("_value", out object? count) && count is long number ? number
            : throw new FormatException("it answers a count with what is none");
    }

    private static string Quoted(string word, char mark) => mark + word.Replace("\\", "\\\\", StringComparison.Ordinal).Replace(mark.ToString(), "\\" + mark, StringComparison.Ordinal) + mark;

    private static long OfPromql(JsonElement answer)
    {
        JsonElement rows = answer.GetProperty("data").GetProperty("result");
        return rows.GetArrayLength() == 0 ? 0 : (long)double.Parse(rows[0].GetProperty("value")[1].GetString()!, CultureInfo.InvariantCulture);
    }

    private static long OfInfluxql(JsonElement answer)
    {
        JsonElement result = answer.GetProperty("results")[0];
        if (result.TryGetProperty("error", out JsonElement error))
        {
            throw new FormatException($"it refuses to count: {error.GetString()}");
        }

        return result.TryGetProperty("series", out JsonElement series) ? series[0].GetProperty("values")[0][1].GetInt64() : 0;
    }
}
