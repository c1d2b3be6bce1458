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

    private readonly FarEndReader _far = new(file);

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
            Warnings = _far.Warnings.InReadingOrder(file),
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
        _far.Lasting = null;
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

        return route with { Trouble = _far.Lasting };
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
            Password = _far.Secret(section, "password"),
            From = Address(section, "from", section.Text("from")) ?? "",
            To = [.. (section.Words("to") ?? []).Select(a => Address(section, "to", a)).OfType<string>()],
            TrustFile = _far.TrustFile(section),
        };
        SayLonePassword(section, mail.User, mail.Password);
        if (mail.Password is not null && security == MailSecurity.None && !FarEndReader.IsHere(mail.Host))
        {
            _far.Warn(section, "security", "the password would go through the network in the clear", "write security = \"starttls\" or \"tls\"");
        }

        return mail;
    }

    private WebhookSettings Webhook(SectionReader section)
    {
        if (!FarEndReader.HasUrl(section))
        {
            section.SayHere($"{section.Name} goes nowhere", "write url = \"https://example.org/bench\"; or url-env or url-file, where the URL is a key itself");
        }

        return new() { Url = _far.Url(section), Secret = _far.Secret(section, "secret"), TrustFile = _far.TrustFile(section) };
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
            Password = _far.Secret(section, "password"),
            TrustFile = _far.TrustFile(section),
            IsOldProtocol = section.Choice("protocol") == "3.1.1",
        };
        SayLonePassword(section, mqtt.User, mqtt.Password);
        if (mqtt.Topic.AsSpan().ContainsAny('+', '#'))
        {
            _far.Warn(section, "topic", "a message goes to one topic, and + and # stand for several", "write a topic without them");
        }

        if (mqtt.Password is not null && !tls && !FarEndReader.IsHere(mqtt.Host))
        {
            _far.Warn(section, "host", "the password would go through the network in the clear", "write tls = true, or take the user and password out");
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
        _far.Lasting = null;
        SectionReader? mqtt = section.Table("mqtt");
        if (FarEndReader.HasUrl(section) == (mqtt is not null))
        {
            section.SayHere("[heartbeat] goes either to a URL or to a broker", "write url = \"https://example.org/alive/bench-1\" (or url-env or url-file, where it is a key itself), or [heartbeat.mqtt] below it");
            return null;
        }

        var heartbeat = new HeartbeatSettings
        {
            File = file,
            Line = section.Line,
            Every = section.Duration("every") ?? TimeSpan.FromMinutes(1),
            Url = _far.Url(section),
            TrustFile = _far.TrustFile(section),
            Mqtt = mqtt is null ? null : Mqtt(mqtt),
        };
        return heartbeat with { Trouble = _far.Lasting };
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

    private string? Address(SectionReader section, string key, string? text)
    {
        if (text is null || (MailboxAddress.TryParse(text, out MailboxAddress? address) && address.Address.Contains('@', StringComparison.Ordinal)))
        {
            return text;
        }

        _far.Warn(section, key, $"\"{text}\" is no address of e-mail", $"write {section.Definition.Find(key)!.Write}");
        return null;
    }

    private void SayLonePassword(SectionReader section, string? user, SecretPlace? password)
    {
        if (password is not null && user is null)
        {
            _far.Warn(section, password.Variable is null ? "password-file" : "password-env", "there is a password and no user", "write user");
        }
    }
}
