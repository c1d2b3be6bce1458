namespace DriftWatch.Site;

/// <summary>Puts the fields of a series together that a server answers one by one.</summary>
internal sealed class SeriesRows
{
    private readonly Dictionary<string, (Dictionary<string, string> Tags, Dictionary<string, double> Fields)> _rows = new(StringComparer.Ordinal);

    public IReadOnlyList<SiteRow> All => [.. _rows.Values.Select(r => new SiteRow(r.Tags, r.Fields))];

    public void Put(Dictionary<string, string> tags, string field, double value)
    {
        string key = string.Join('\n', tags.OrderBy(t => t.Key, StringComparer.Ordinal).Select(t => $"{t.Key}={t.Value}"));
        if (!_rows.TryGetValue(key, out (Dictionary<string, string> Tags, Dictionary<string, double> Fields) row))
        {
            _rows.Add(key, row = (tags, new Dictionary<string, double>(StringComparer.Ordinal)));
        }

        row.Fields[field] = value;
    }
}
