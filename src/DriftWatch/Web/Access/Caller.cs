using System.Net;

namespace DriftWatch.Web.Access;

/// <summary>Where a request came in, before any proxy's word about it was taken.</summary>
/// <param name="Address">Who connected; null for an in-process transport, which is as near as it gets.</param>
/// <param name="IsProxy">Whether that is a proxy of the access file.</param>
internal sealed record Door(IPAddress? Address, bool IsProxy)
{
    /// <summary>This machine itself. A proxy on this machine is not: it brings people from elsewhere.</summary>
    public bool IsNear => !IsProxy && (Address is null || IPAddress.IsLoopback(Address));

    public static Door Of(HttpContext context, ProxySettings? proxy)
    {
        IPAddress? address = Plain(context.Connection.RemoteIpAddress);
        return new Door(address, address is not null && proxy?.Trusts(address) == true);
    }

    /// <summary>An IPv4 address that a socket for both families shows as IPv6 is told as what it is.</summary>
    public static IPAddress? Plain(IPAddress? address) => address is { IsIPv4MappedToIPv6: true } ? address.MapToIPv4() : address;
}

/// <summary>Who asks.</summary>
/// <param name="Name">As proved; null on loopback, where each act declares its own.</param>
/// <param name="Role">What he may do.</param>
/// <param name="Identity">How the name is known, as the record says it.</param>
internal sealed record Caller(string? Name, AccessRole Role, string Identity)
{
    public const string Declared = "declared";
    public const string ByToken = "token";
    public const string ByProxy = "proxy";

    /// <summary>Whoever sits at this machine.</summary>
    public static Caller Near { get; } = new(null, AccessRole.Operator, Declared);

    /// <summary>The sign-in on the page, where there is one.</summary>
    public Session? Session { get; init; }

    /// <summary>Is set once the right to be here has ended; what streams must then stop.</summary>
    public CancellationToken Ended { get; init; }

    /// <exception cref="InvalidOperationException">Nobody was let in: only asked behind the authorization.</exception>
    public static Caller Of(HttpContext context) =>
        Find(context) ?? throw new InvalidOperationException("A request without a caller got past the authorization.");

    /// <summary>Null for a stranger.</summary>
    public static Caller? Find(HttpContext context) => context.Features.Get<Caller>();
}
