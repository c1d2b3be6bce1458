using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Mirror;

/// <summary>By which language a server is asked how many readings it holds.</summary>
internal enum CountWay
{
    /// <summary>Nobody asks: lines that a server drops in silence go unnoticed.</summary>
    None,

    /// <summary>PromQL over HTTP, <c>/api/v1/query</c>.</summary>
    Promql,

    /// <summary>InfluxQL over HTTP, <c>/query</c>.</summary>
    Influxql,

    /// <summary>Flux over HTTP, <c>/api/v2/query</c>.</summary>
    Flux,
}

/// <summary>How much of the readings a server gets.</summary>
internal enum MirrorDetail
{
    /// <summary>Every one.</summary>
    Reading,

    /// <summary>One line a channel and second.</summary>
    Second,

    /// <summary>One line a channel and minute.</summary>
    Minute,
}

/// <summary>One server that a bench's readings are mirrored to, as the bench file says. No secret stands here, only where one is kept.</summary>
internal sealed record MirrorSettings
{
    /// <summary>Stays for ever: how far the server has the log is kept under it.</summary>
    public required string Id { get; init; }

    /// <summary>Where it stands, for messages.</summary>
    public required string File { get; init; }

    public required int Line { get; init; }

    /// <summary>Null where what is written is no URL.</summary>
    public required WebAddress? Url { get; init; }

    public WriteWay Way { get; init; }

    public CountWay Counts { get; init; }

    public MirrorDetail Detail { get; init; }

    public required string Bucket { get; init; }

    public string? Organisation { get; init; }

    public string? User { get; init; }

    public SecretPlace? Key { get; init; }

    public string? TrustFile { get; init; }

    /// <summary>Value of the tag <c>site</c>; null for none.</summary>
    public string? Site { get; init; }

    /// <summary>Whether what was stored before the mirror was set up is sent too.</summary>
    public bool SendsPast { get; init; } = true;

    /// <summary>Behind by more than this, people are told. Source: our own choice; half of the hour in which nothing is lost.</summary>
    public TimeSpan TellAfter { get; init; } = TimeSpan.FromMinutes(30);
}
