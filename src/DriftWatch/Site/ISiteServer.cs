namespace DriftWatch.Site;

/// <summary>The newest of one series: what it is of, and its fields.</summary>
/// <param name="Tags">By name.</param>
/// <param name="Fields">By name; a field that no point has is left out.</param>
internal sealed record SiteRow(IReadOnlyDictionary<string, string> Tags, IReadOnlyDictionary<string, double> Fields)
{
    public string? Tag(string name) => Tags.GetValueOrDefault(name);

    public double? Field(string name) => Fields.TryGetValue(name, out double value) ? value : null;
}

/// <summary>A server that many benches are mirrored to, asked in its own language.</summary>
internal interface ISiteServer : IDisposable
{
    /// <summary>The newest value of each field of each series of a measurement, of those within a span before now.</summary>
    /// <exception cref="HttpRequestException">The server can't be asked, or says no.</exception>
    /// <exception cref="FormatException">It answers what nobody can read.</exception>
    Task<IReadOnlyList<SiteRow>> NewestAsync(string measurement, IReadOnlyList<string> fields, TimeSpan within, CancellationToken cancel);
}
