using System.Globalization;
using System.Net.Security;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace DriftWatch.Notices.Routes;

/// <summary>
/// Judges the certificate of the far end as the system does, or by the issuers of a file, and remembers in words what
/// was wrong with it and until when it is good. It lets nothing pass that the system would not.
/// </summary>
internal sealed class CertificateJudge(string? trustFile, TimeProvider time)
{
    /// <summary>Told by a check when a certificate has no longer than this. Source: common practice, no source.</summary>
    public static readonly TimeSpan SoonOver = TimeSpan.FromDays(14);

    /// <summary>What was wrong with the last one; null where nothing was.</summary>
    public string? Complaint { get; private set; }

    public DateTimeOffset? GoodUntil { get; private set; }

    /// <summary>What a check says of a certificate that still works; empty where there is nothing to say.</summary>
    public string Warning => GoodUntil is { } until && until - time.GetUtcNow() < SoonOver
        ? string.Create(CultureInfo.InvariantCulture, $"; its certificate is good until {until:yyyy-MM-dd} only")
        : "";

    public bool Accept(object sender, X509Certificate? certificate, X509Chain? chain, SslPolicyErrors errors) => Accept(certificate, errors);

    public bool Accept(X509Certificate? certificate, SslPolicyErrors errors)
    {
        Complaint = null;
        if (certificate is null)
        {
            Complaint = "the far end shows no certificate";
            return false;
        }

        using var shown = new X509Certificate2(certificate);
        GoodUntil = new DateTimeOffset(shown.NotAfter.ToUniversalTime(), TimeSpan.Zero);
        DateTimeOffset now = time.GetUtcNow();
        if (now > GoodUntil)
        {
            Complaint = string.Create(CultureInfo.InvariantCulture, $"its certificate expired on {GoodUntil:yyyy-MM-dd}");
            return false;
        }

        var goodFrom = new DateTimeOffset(shown.NotBefore.ToUniversalTime(), TimeSpan.Zero);
        if (now < goodFrom)
        {
            Complaint = string.Create(CultureInfo.InvariantCulture, $"its certificate is not good before {goodFrom:yyyy-MM-dd HH:mm} UTC, and this computer's clock says {now:yyyy-MM-dd HH:mm}");
            return false;
        }

        if (errors.HasFlag(SslPolicyErrors.RemoteCertificateNameMismatch))
        {
            Complaint = $"its certificate is made for another name ({shown.GetNameInfo(X509NameType.DnsName, forIssuer: false)})";
            return false;
        }

        if (errors != SslPolicyErrors.None && !(trustFile is not null && IsIssuedBy(shown, now)))
        {
            Complaint ??= "its certificate is issued by nobody this computer trusts";
            return false;
        }

        return true;
    }

    private bool IsIssuedBy(X509Certificate2 shown, DateTimeOffset now)
    {
        try
        {
            using var chain = new X509Chain();
            chain.ChainPolicy.TrustMode = X509ChainTrustMode.CustomRootTrust;
            chain.ChainPolicy.RevocationMode = X509RevocationMode.NoCheck;
            chain.ChainPolicy.VerificationTime = now.UtcDateTime;
            chain.ChainPolicy.CustomTrustStore.ImportFromPemFile(trustFile!);
            return chain.Build(shown);
        }
        catch (Exception exception) when (exception is CryptographicException or IOException or UnauthorizedAccessException)
        {
            Complaint = $"{trustFile} can't be read as certificates: {RouteWords.Line(exception)}";
            return false;
        }
    }
}
