using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using DriftWatch.Web.Access;

namespace DriftWatch.Configuration;

/// <summary>What an access file says, or the mistakes that stand in its way; never both.</summary>
internal sealed record AccessFileResult(AccessSettings? Settings, IReadOnlyList<FileMistake> Mistakes);

/// <summary>Reads an access file (TOML, UTF-8, readable by its owner only). All mistakes are found in one go.</summary>
internal static class AccessFile
{
    /// <summary>The file as a service needs it: somebody can sign in.</summary>
    /// <remarks>Never throws for what the file says, nor for one that is missing or unreadable.</remarks>
    public static AccessFileResult Load(string path) => Load(path, mayLetNobodyIn: false);

    /// <param name="path">The access file. Mistakes name it as written here.</param>
    /// <param name="mayLetNobodyIn">Whether a file by which nobody can sign in yet is sound.</param>
    public static AccessFileResult Load(string path, bool mayLetNobodyIn)
    {
        var mistakes = new MistakeList();
        AccessSettings? settings = null;
        SayRights(path, mistakes);
        if (SourceText.Read(path, mistakes) is { } text && TomlTreeReader.Read(path, text, mistakes) is { } root)
        {
            settings = Read(new SectionReader(path, root, AccessKeys.Root, mistakes));
            if (mistakes.Count == 0 && !mayLetNobodyIn && !settings.LetsAnybodyIn)
            {
                mistakes.Add(path, 1, 1, "nobody can sign in", $"run 'driftwatch access add NAME --role operator --file {path}', or write name-header under [proxy]");
            }
        }

        return mistakes.Count == 0 ? new AccessFileResult(settings, []) : new AccessFileResult(null, mistakes.InReadingOrder(path));
    }

    private static void SayRights(string path, MistakeList mistakes)
    {
        try
        {
            if (OwnerOnly.WhyNot(path) is { } why)
            {
                mistakes.Add(path, 1, 1, why.What, why.Remedy);
            }
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            // Reading it says so in better words.
        }
    }

    private static AccessSettings Read(SectionReader top)
    {
        IReadOnlyList<SectionReader> people = top.Tables("person");
        SayTwice(people, "name");
        SayTwice(people, "token-id");
        return new AccessSettings
        {
            People = [.. people.Select(Person).OfType<PersonEntry>()],
            Ends = [.. people.Select(End).OfType<TokenEnd>()],
            Proxy = top.Table("proxy") is { } proxy ? Proxy(proxy) : null,
            Session = top.Table("session") is { } session ? Session(session) : new SessionSettings(),
        };
    }

    private static PersonEntry? Person(SectionReader section)
    {
        string? id = section.Text("token-id");
        if (id is not null && !Tokens.IsId(id))
        {
            section.Say("token-id", $"'token-id' is \"{id}\", which is none", "run 'driftwatch access add' again and keep what it writes");
        }

        TokenHash? hash = null;
        if (section.Text("token-hash") is { } text && (hash = TokenHash.Parse(text)) is null)
        {
            // What stands there may be the token itself, put in by mistake: it is not repeated.
            section.Say("token-hash", "'token-hash' is not what 'driftwatch access add' writes", "run 'driftwatch access add' again and keep what it writes; a token itself does not belong here");
        }

        return section.Text("name") is { } name && section.Choice<AccessRole>("role") is { } role && id is not null && hash is not null
            ? new PersonEntry(name.Trim(), role, id, hash)
            : null;
    }

    private static TokenEnd? End(SectionReader section)
    {
        if (section.Text("until") is not { } text)
        {
            return null;
        }

        if (!DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly day))
        {
            section.Say("until", $"'until' is \"{text}\", which is no day", "write year, month and day, such as until = \"2027-03-01\"");
            return null;
        }

        (int line, int column) = section.PlaceOf("until");
        var over = new FileMistake(
            section.File, line, column, $"'until' of {section.Name} is over since {text}, and the token lets nobody in",
            "delete this [[person]] and run 'driftwatch access add' for a new token, or write a later day");
        return new TokenEnd(section.Text("token-id") ?? "", day, over);
    }

    private static void SayTwice(IReadOnlyList<SectionReader> people, string key)
    {
        var lines = new Dictionary<string, int>(StringComparer.OrdinalIgnoreCase);
        foreach (SectionReader person in people)
        {
            if (person.Text(key) is { } text && !lines.TryAdd(text.Trim(), person.LineOf(key)))
            {
                person.Say(key, $"'{key}' \"{text}\" stands already in line {lines[text.Trim()]}", "give each person one [[person]], and delete the older");
            }
        }
    }

    private static ProxySettings Proxy(SectionReader section)
    {
        var trusted = new List<IPNetwork>();
        foreach (string text in section.Words("trusted") ?? [])
        {
            if (Network(text) is { } network)
            {
                trusted.Add(network);
            }
            else
            {
                section.Say("trusted", $"\"{text}\" is neither an address nor a network", "write such as \"10.0.0.5\" or \"10.0.0.0/24\", the network with its first address");
            }
        }

        if (section.Has("role-header") && !section.Has("name-header"))
        {
            section.Say("role-header", "the proxy says a role and no name", "write name-header as well");
        }

        return new ProxySettings
        {
            Trusted = trusted,
            NameHeader = Header(section, "name-header"),
            RoleHeader = Header(section, "role-header"),
            Role = section.Choice<AccessRole>("role") ?? AccessRole.Reader,
        };
    }

    private static IPNetwork? Network(string text)
    {
        if (IPAddress.TryParse(text, out IPAddress? address))
        {
            return new IPNetwork(address, address.GetAddressBytes().Length * 8);
        }

        return IPNetwork.TryParse(text, out IPNetwork network) ? network : null;
    }

    private static string? Header(SectionReader section, string key)
    {
        string? name = section.Text(key);
        if (name is null || (NameValueHeaderValue.TryParse(name, out NameValueHeaderValue? token) && token.Name == name && token.Value is null))
        {
            return name;
        }

        section.Say(key, $"\"{name}\" is no name of a header", $"write {section.Definition.Find(key)!.Write}");
        return null;
    }

    private static SessionSettings Session(SectionReader section)
    {
        var plain = new SessionSettings();
        var settings = new SessionSettings
        {
            Idle = section.Duration("idle") ?? plain.Idle,
            Longest = section.Duration("longest") ?? plain.Longest,
        };
        if (settings.Idle > settings.Longest)
        {
            section.Say(section.Has("idle") ? "idle" : "longest", $"a sign-in would hold {DurationText.Write(settings.Longest)} at most but {DurationText.Write(settings.Idle)} without use", "write idle not above longest");
        }

        return settings;
    }
}
