using System.Net;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Web.Access;

/// <summary>What somebody may do here: see everything, or act as well.</summary>
internal enum AccessRole
{
    Reader,
    Operator,
}

/// <summary>What an access file says: who may sign in, which proxies are believed, how long a sign-in holds.</summary>
internal sealed record AccessSettings
{
    /// <summary>Nobody can sign in: right for a service on loopback, which needs no sign-in.</summary>
    public static AccessSettings None { get; } = new();

    public IReadOnlyList<PersonEntry> People { get; init; } = [];

    /// <summary>Of the tokens that end by themselves.</summary>
    public IReadOnlyList<TokenEnd> Ends { get; init; } = [];

    public ProxySettings? Proxy { get; init; }

    public SessionSettings Session { get; init; } = new();

    /// <summary>Whether there is any way in from the network.</summary>
    public bool LetsAnybodyIn => People.Count > 0 || Proxy?.NameHeader is not null;

    /// <summary>The tokens that are over on a day.</summary>
    public IEnumerable<TokenEnd> OverOn(DateOnly day) => Ends.Where(end => end.LastDay < day);

    /// <summary>Whose tokens let them in on a day.</summary>
    public IEnumerable<PersonEntry> PeopleOn(DateOnly day) => People.ExceptBy(OverOn(day).Select(end => end.TokenId), person => person.TokenId);
}

/// <summary>A named person with the hash of the one token that proves it.</summary>
internal sealed record PersonEntry(string Name, AccessRole Role, string TokenId, TokenHash Hash);

/// <summary>A token's last day, in UTC, and what to say of it once that is over. It stands beside its person, who stays the same when the file's lines move.</summary>
internal sealed record TokenEnd(string TokenId, DateOnly LastDay, FileMistake Over);

/// <summary>A proxy before the service that ends TLS, and may say who its people are.</summary>
internal sealed record ProxySettings
{
    /// <summary>Where it connects from; never empty.</summary>
    public required IReadOnlyList<IPNetwork> Trusted { get; init; }

    /// <summary>Header in which it says who somebody is; null where it does not, and people sign in with tokens.</summary>
    public string? NameHeader { get; init; }

    /// <summary>Header in which it says <c>reader</c> or <c>operator</c>; null where everybody has <see cref="Role"/>.</summary>
    public string? RoleHeader { get; init; }

    public AccessRole Role { get; init; } = AccessRole.Reader;

    public bool Trusts(IPAddress address) => Trusted.Any(network => network.Contains(address));
}

/// <summary>How long a sign-in on the page holds.</summary>
internal sealed record SessionSettings
{
    /// <summary>Without a request and without an open page. Default 30 min; source: common practice, no source.</summary>
    public TimeSpan Idle { get; init; } = TimeSpan.FromMinutes(30);

    /// <summary>However busy. Default 12 h, a long shift; source: common practice, no source.</summary>
    public TimeSpan Longest { get; init; } = TimeSpan.FromHours(12);
}

/// <summary>The words of roles, as the access file and the API write them.</summary>
internal static class AccessRoles
{
    public static string Word(this AccessRole role) => Slugs.Of(role);
}
