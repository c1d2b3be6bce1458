using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using DriftWatch.Configuration;

namespace DriftWatch.Cli;

/// <summary>How <c>watch</c> is reached: where it listens, under which names, for whom, and with which certificate.</summary>
internal sealed record WatchDoor(string Listen, string[] Hosts, FileInfo? Access, FileInfo? Certificate, FileInfo? Key)
{
    /// <summary>Makes the service listen. Refuses a network address that anybody could walk in by.</summary>
    /// <returns>True where tokens would go through a network in the clear.</returns>
    /// <exception cref="CommandException">What was asked for can't be done or must not be.</exception>
    public bool Open(WebApplicationBuilder builder)
    {
        // Of a lone number .NET makes an address, and of a lone address port 0.
        if (!IPEndPoint.TryParse(Listen, out IPEndPoint? endPoint) || !Listen.EndsWith($":{endPoint.Port}", StringComparison.Ordinal))
        {
            throw new CommandException(ExitCode.Usage, $"--listen {Listen}: not an address and port; write for example 127.0.0.1:{WatchCommand.DefaultPort}");
        }

        bool isNear = IPAddress.IsLoopback(endPoint.Address);
        if (!isNear && Access is null)
        {
            throw new CommandException(
                ExitCode.Usage,
                $"--listen {Listen} opens the page to the network, and nothing says who may come in; make a file with "
                + "'driftwatch access add NAME --role operator --file access.toml' and give it with --access access.toml, or listen on 127.0.0.1");
        }

        bool hasProxy = false;
        if (Access is not null)
        {
            AccessFileResult result = AccessFile.Load(Access.ToString());
            hasProxy = result.Settings is { } settings
                ? settings.Proxy is not null
                : throw new CommandException(ExitCode.BadInput, string.Join(Environment.NewLine, result.Mistakes));
        }

        X509Certificate2Collection? chain = ReadCertificate(out X509Certificate2? own);
        if (own is not null)
        {
            builder.WebHost.UseKestrelHttpsConfiguration();
        }

        builder.WebHost.ConfigureKestrel(options => options.Listen(endPoint, listen =>
        {
            if (own is not null)
            {
                listen.UseHttps(https =>
                {
                    https.ServerCertificate = own;
                    https.ServerCertificateChain = chain;
                });
            }
        }));
        return !isNear && own is null && !hasProxy;
    }

    private X509Certificate2Collection? ReadCertificate(out X509Certificate2? own)
    {
        own = null;
        if (Certificate is null && Key is null)
        {
            return null;
        }

        if (Certificate is null || Key is null)
        {
            throw new CommandException(ExitCode.Usage, "--certificate and --key belong together; give both");
        }

        try
        {
            if (OwnerOnly.WhyNot(Key.ToString()) is { } why)
            {
                throw new CommandException(ExitCode.BadInput, $"{why.What}; {why.Remedy}");
            }

            own = X509Certificate2.CreateFromPemFile(Certificate.ToString(), Key.ToString());
            var chain = new X509Certificate2Collection();
            chain.ImportFromPemFile(Certificate.ToString());
            return chain;
        }
        catch (Exception exception) when (exception is CryptographicException or ArgumentException)
        {
            throw new CommandException(
                ExitCode.BadInput, $"--certificate {Certificate} --key {Key}: {exception.Message.TrimEnd('.')}; both must be PEM, and the key must be the certificate's", exception);
        }
    }
}
