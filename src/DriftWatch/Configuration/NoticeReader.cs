using System.Globalization;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using MimeKit;

namespace DriftWatch.Configuration;

/// <summary>
/// Reads a bench file's notices. A key that is wrong is a mistake like any other. What may be right by tomorrow, such as
/// a URL or an address, is a warning: the bench is watched, and that route's notices wait. A secret that is not there is one, too,
/// and the route tries it each time.
/// </summary>
internal sealed class NoticeReader(string file)
{
    private static readonly string[] OfMessages = ["follow-ups", "most", "within"];
    private static readonly string[] UrlKeys = ["url", "url-env", "url-file"];

    private readonly MistakeList _warnings = new();
    private string? _lasting; // what of the section read now can't work until the file is put right
    private readonly string _folder = Path.GetDirectoryName(file) is { Length: > 0 } folder ? folder : ".";

    public NoticeSettings Read(IReadOnlyList<SectionReader> notices, SectionReader? page, SectionReader? heartbeat)
    {
        var routes = new List<RouteSettings>();
        var seen = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (SectionReader section in notices)
        {
            string? id = section.Slug("id");
            if (id is not null && !seen.TryAdd(id, section.LineOf("id")))
            {
                section.Say("id", $"route '{id}' stands already in line {seen[id]}", "write another id");
            }

            if (Route(section, id ?? "") is { } route)
            {
                routes.Add(route);
            }
        }

        HeartbeatSettings? beat = heartbeat is null ? null : Heartbeat(heartbeat);
        var plain = new PageNotices();
        return new NoticeSettings
        {
            Routes = routes,
            Heartbeat = beat,
            Page = page is null
                ? plain
                : new PageNotices
                {
                    LeastPriority = page.Choice<AlarmPriority>("least-priority") ?? plain.LeastPriority,
                    Sound = page.Flag("sound") ?? plain.Sound,
                    Speech = page.Flag("speech") ?? plain.Speech,
                },
            Warnings = _warnings.InReadingOrder(file),
        };
    }

    private RouteSettings? Route(SectionReader section, string id)
    {
        var plain = new RouteSettings { Id = id, Kind = RouteKind.Desktop, File = file, Line = section.Line };
        List<(RouteKind Kind, SectionReader Section)> kinds =
        [
            .. Enum.GetValues<RouteKind>().Select(k => (k, section.Table(Slugs.Of(k)))).Where(k => k.Item2 is not null).Select(k => (k.k, k.Item2!)),
        ];
        if (kinds.Count != 1)
        {
            section.SayHere(kinds.Count == 0 ? $"{section.Name} has no way out" : $"{section.Name} has {kinds.Count} ways out", "write exactly one of [notice.e-mail], [notice.webhook], [notice.mqtt], [notice.lamp], [notice.desktop] below it");
            return null;
        }

        (RouteKind kind, SectionReader own) = kinds[0];
        _lasting = null;
        RouteSettings route = plain with
        {
            Kind = kind,
            LeastPriority = section.Choice<AlarmPriority>("least-priority") ?? plain.LeastPriority,
            After = section.Duration("after") ?? plain.After,
            FollowUps = section.Flag("follow-ups") ?? plain.FollowUps,
            QuietFrom = TimeOfDay(section, "quiet-from"),
            QuietTo = TimeOfDay(section, "quiet-to"),
            Most = section.Integer("most") ?? plain.Most,
            Within = section.Duration("within") ?? plain.Within,
            Mail = kind == RouteKind.EMail ? Mail(own) : null,
            Webhook = kind == RouteKind.Webhook ? Webhook(own) : null,
            Mqtt = kind == RouteKind.Mqtt ? Mqtt(own) : null,
            Lamp = kind == RouteKind.Lamp ? Lamp(own) : null,
            Desktop = kind == RouteKind.Desktop ? new DesktopSettings { Bus = own.Text("bus") } : null,
        };
        if (section.Has("quiet-from") != section.Has("quiet-to") || (route.QuietFrom is not null && route.QuietFrom == route.QuietTo))
        {
            section.Say(section.Has("quiet-from") ? "quiet-from" : "quiet-to", "quiet hours need a beginning and another end", "write quiet-from = \"22:00\" and quiet-to = \"07:00\"");
        }

        foreach (string key in kind == RouteKind.Lamp ? OfMessages.Where(section.Has) : [])
        {
            section.Say(key, $"'{key}' is about messages, and a lamp or horn has none: it shows what waits for an answer", $"take '{key}' out");
        }

        return route with { Trouble = _lasting };
    }

    private MailSettings Mail(SectionReader section)
    {
        MailSecurity security = section.Choice<MailSecurity>("security") ?? MailSecurity.Starttls;
        var mail = new MailSettings
        {
            Host = section.Text("host") ?? "",
            Port = section.Integer("port") ?? (security == MailSecurity.Tls ? 465 : security == MailSecurity.None ? 25 : 587),
            Security = security,
            User = section.Text("user"),
            Password = Secret(section, "password"),
            From = Address(section, "from", section.Text("from")) ?? "",
            To = [.. (section.Words("to") ?? []).Select(a => Address(section, "to", a)).OfType<string>()],
            TrustFile = TrustFile(section),
        };
        SayLonePassword(section, mail.User, mail.Password);
        if (mail.Password is not null && security == MailSecurity.None && !IsHere(mail.Host))
        {
            Warn(section, "security", "the password would go through the network in the clear", "write security = \"starttls\" or \"tls\"");
        }

        return mail;
    }

    private WebhookSettings Webhook(SectionReader section)
    {
        if (!HasUrl(section))
        {
            section.SayHere($"{section.Name} goes nowhere", "write url = \"https://example.org/bench\"; or url-env or url-file, where the URL is a key itself");
        }

        return new() { Url = Url(section), Secret = Secret(section, "secret"), TrustFile = TrustFile(section) };
    }

    private MqttSettings Mqtt(SectionReader section)
    {
        bool tls = section.Flag("tls") ?? false;
        var mqtt = new MqttSettings
        {
            Host = section.Text("host") ?? "",
            Port = section.Integer("port") ?? (tls ? 8883 : 1883),
            Tls = tls,
            Topic = section.Text("topic") ?? "",
            User = section.Text("user"),
            Password = Secret(section, "password"),
            TrustFile = TrustFile(section),
            IsOldProtocol = section.Choice("protocol") == "3.1.1",
        };
        SayLonePassword(section, mqtt.User, mqtt.Password);
        if (mqtt.Topic.AsSpan().ContainsAny('+', '#'))
        {
            Warn(section, "topic", "a message goes to one topic, and + and # stand for several", "write a topic without them");
        }

        if (mqtt.Password is not null && !tls && !IsHere(mqtt.Host))
        {
            Warn(section, "host", "the password would go through the network in the clear", "write tls = true, or take the user and password out");
        }

        return mqtt;
    }

    private static LampSettings Lamp(SectionReader section) => new()
    {
        Chip = section.Integer("chip") ?? 0,
        Pin = section.Integer("line") ?? 0,
        ActiveLow = section.Flag("active-low") ?? false,
        Longest = section.Duration("longest"),
    };

    private HeartbeatSettings? Heartbeat(SectionReader section)
    {
        _lasting = null;
        SectionReader? mqtt = section.Table("mqtt");
        if (HasUrl(section) == (mqtt is not null))
        {
            section.SayHere("[heartbeat] goes either to a URL or to a broker", "write url = \"https://example.org/alive/bench-1\" (or url-env or url-file, where it is a key itself), or [heartbeat.mqtt] below it");
            return null;
        }

        var heartbeat = new HeartbeatSettings
        {
            File = file,
            Line = section.Line,
            Every = section.Duration("every") ?? TimeSpan.FromMinutes(1),
            Url = Url(section),
            TrustFile = TrustFile(section),
            Mqtt = mqtt is null ? null : Mqtt(mqtt),
        };
        return heartbeat with { Trouble = _lasting };
    }

    private static TimeOnly? TimeOfDay(SectionReader section, string key)
    {
        if (section.Text(key) is not { } text)
        {
            return null;
        }

        if (TimeOnly.TryParseExact(text, "HH:mm", CultureInfo.InvariantCulture, DateTimeStyles.None, out TimeOnly time))
        {
            return time;
        }

        section.Say(key, $"'{key}' is \"{text}\", which is no time of day", $"write {section.Definition.Find(key)!.Write}, hours 00 to 23 and minutes");
        return null;
    }

    private static bool HasUrl(SectionReader section) => UrlKeys.Any(section.Has);

    private WebAddress? Url(SectionReader section)
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

            Warn(section, "url", "'url' holds a name or password, which would stand in logs", "take them out, and sign with secret-file instead");
            return null;
        }

        Warn(section, "url", $"\"{text}\" is no URL of a web server", $"write {section.Definition.Find("url")!.Write}");
        return null;
    }

    private string? Address(SectionReader section, string key, string? text)
    {
        if (text is null || (MailboxAddress.TryParse(text, out MailboxAddress? address) && address.Address.Contains('@', StringComparison.Ordinal)))
        {
            return text;
        }

        Warn(section, key, $"\"{text}\" is no address of e-mail", $"write {section.Definition.Find(key)!.Write}");
        return null;
    }

    private SecretPlace? Secret(SectionReader section, string name)
    {
        SecretPlace? place = Place(section, name);
        if (place is not null && Secrets.WhyNot(place) is { } whyNot)
        {
            WarnForNow(section, place.Variable is null ? name + "-file" : name + "-env", whyNot.What, whyNot.Remedy);
        }

        return place;
    }

    private SecretPlace? Place(SectionReader section, string name)
    {
        string? variable = section.Text(name + "-env");
        string? path = section.Text(name + "-file");
        if (variable is not null && path is not null)
        {
            section.Say(name + "-file", $"{name}-env and {name}-file both stand there", "write one of them");
        }

        return variable is null && path is null ? null : new SecretPlace(variable, path is null ? null : Path.Combine(_folder, path));
    }

    private string? TrustFile(SectionReader section)
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

    private void SayLonePassword(SectionReader section, string? user, SecretPlace? password)
    {
        if (password is not null && user is null)
        {
            Warn(section, password.Variable is null ? "password-file" : "password-env", "there is a password and no user", "write user");
        }
    }

    private static bool IsHere(string host) => host is "localhost" || (System.Net.IPAddress.TryParse(host, out System.Net.IPAddress? address) && System.Net.IPAddress.IsLoopback(address));

    /// <summary>What keeps the route from working until the file is put right.</summary>
    private void Warn(SectionReader section, string key, string what, string remedy)
    {
        WarnForNow(section, key, what, remedy);
        _lasting = what;
    }

    /// <summary>Files and secrets are read each time they are used: the route works from when they are there.</summary>
    private void WarnForNow(SectionReader section, string key, string what, string remedy)
    {
        (int line, int column) = section.PlaceOf(key);
        _warnings.Add(file, line, column, what, remedy);
    }
}
