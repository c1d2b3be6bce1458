namespace DriftWatch.Notices.Routes;

/// <summary>
/// A URL that stands in the bench file, or one that is a key itself and is kept as secrets are: the bench file goes into the store,
/// its backups and the exact log.
/// </summary>
/// <param name="Written">As in the bench file; null where it is kept as a secret.</param>
/// <param name="Kept">Where it is kept otherwise.</param>
internal sealed record WebAddress(Uri? Written, SecretPlace? Kept = null)
{
    public const string Example = "https://example.org/bench";

    /// <exception cref="SecretException">It can't be had, or is no URL; the message never holds it.</exception>
    public Uri Read() => Written ?? (Parse(Secrets.Read(Kept!).Trim())
        ?? throw new SecretException($"what {Kept!.Name} holds is no URL of a web server", $"put the whole URL there, such as {Example}, and nothing else"));

    /// <summary>Null where it can be had.</summary>
    public (string What, string Remedy)? WhyNot()
    {
        try
        {
            _ = Read();
            return null;
        }
        catch (SecretException exception)
        {
            return (exception.Message, exception.Remedy);
        }
    }

    /// <summary>Null where it is no http or https URL.</summary>
    public static Uri? Parse(string text) =>
        Uri.TryCreate(text, UriKind.Absolute, out Uri? url) && url.Scheme is "http" or "https" && url.Host.Length > 0 ? url : null;
}
