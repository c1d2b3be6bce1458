using System.Net;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;

namespace DriftWatch.Configuration;

/// <summary>
/// Reads what a bench file says of a far end: its URL, where its secrets are kept, whom to trust. What may be right by tomorrow is a
/// warning: the bench is watched, and what goes to that far end waits. A secret that is not there is one, too, and is looked for each time.
/// </summary>
internal sealed class FarEndReader(string file)
{
    private static readonly string[] UrlKeys = ["url", "url-env", "url-file"];

    private readonly string _folder = Path.GetDirectoryName(file) is { Length: > 0 } folder ? folder : ".";

    public MistakeList Warnings { get; } = new();

    /// <summary>What of the section read now can't work until the file is put right; null where nothing stands in the way.</summary>
    public string? Lasting { get; set; }

    public static bool HasUrl(SectionReader section) => UrlKeys.Any(section.Has);

    public WebAddress? Url(SectionReader section)
    {
        SecretPlace? kept = Place(section, "url");
        if (kept is not null)
        {
            var address = new WebAddress(null, kept);
            if (section.Has("url"))
            {
                section.Say("url", "a URL stands in the file and is kept as a secret too", "write one of them");
            }
            else if (address.WhyNot() is { } whyNot)
            {
                WarnForNow(section, kept.Variable is null ? "url-file" : "url-env", whyNot.What, whyNot.Remedy);
            }

            return address;
        }

        if (section.Text("url") is not { } text)
        {
            return null;
        }

        if (WebAddress.Parse(text) is { } url)
        {
            if (url.UserInfo.Length == 0)
            {
                return new WebAddress(url);
            }

            Warn(section, "url", "'url' holds a name or password, which would stand in logs", "take them out, and keep them as a secret");
            return null;
        }

        Warn(section, "url", $"\"{text}\" is no URL of a web server", $"write {section.Definition.Find("url")!.Write}");
        return null;
    }

    public SecretPlace? Secret(SectionReader section, string name)
    {
        SecretPlace? place = Place(section, name);
        if (place is not null && Secrets.WhyNot(place) is { } whyNot)
        {
            WarnForNow(section, place.Variable is null ? name + "-file" : name + "-env", whyNot.What, whyNot.Remedy);
        }

        return place;
    }

    public SecretPlace? Place(SectionReader section, string name)
    {
        string? variable = section.Text(name + "-env");
        string? path = section.Text(name + "-file");
        if (variable is not null && path is not null)
        {
            section.Say(name + "-file", $"{name}-env and {name}-file both stand there", "write one of them");
        }

        return variable is null && path is null ? null : new SecretPlace(variable, path is null ? null : Path.Combine(_folder, path));
    }

    public string? TrustFile(SectionReader section)
    {
        if (section.Text("trust-file") is not { } name)
        {
            return null;
        }

        string path = Path.Combine(_folder, name);
        if (BenchFile.WhyUnreadable(path) is { } why)
        {
            WarnForNow(section, "trust-file", $"{path} can't be read: {why.TrimEnd('.')}", "look at its name, its owner and its rights");
        }

        return path;
    }

    public static bool IsHere(string host) => host is "localhost" || (IPAddress.TryParse(host, out IPAddress? address) && IPAddress.IsLoopback(address));

    /// <summary>What keeps the route from working until the file is put right.</summary>
    public void Warn(SectionReader section, string key, string what, string remedy)
    {
        WarnForNow(section, key, what, remedy);
        Lasting = what;
    }

    /// <summary>Files and secrets are read each time they are used: the route works from when they are there.</summary>
    public void WarnForNow(SectionReader section, string key, string what, string remedy)
    {
        (int line, int column) = section.PlaceOf(key);
        Warnings.Add(file, line, column, what, remedy);
    }
}
