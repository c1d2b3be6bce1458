namespace DriftWatch.Storage.Mirror;

/// <summary>How a server is written to.</summary>
public enum WriteWay
{
    /// <summary><c>/api/v2/write</c> with a token, organisation and bucket.</summary>
    V2,

    /// <summary><c>/write</c> with a database, and a name and password.</summary>
    V1,
}

/// <summary>Where a mirror goes and how.</summary>
public sealed record LineServerOptions
{
    /// <summary>Base address: scheme, host, port, and a path where the server lies below one.</summary>
    public required Uri Url { get; init; }

    public WriteWay Way { get; init; }

    /// <summary>Bucket, or database.</summary>
    public required string Bucket { get; init; }

    /// <summary>Organisation; servers of the older way have none.</summary>
    public string? Organisation { get; init; }

    /// <summary>The name to sign in with; null signs in with the key alone, as a token.</summary>
    public string? User { get; init; }

    /// <summary>Gives the token or password each time it is needed, so that a changed one holds at once; null where none is needed.</summary>
    public Func<string>? Key { get; init; }

    /// <summary>How long a batch may take. Default 30 s; source: common practice, no source.</summary>
    public TimeSpan Timeout { get; init; } = TimeSpan.FromSeconds(30);
}
