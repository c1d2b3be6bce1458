using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Notices.Routes;

namespace DriftWatch.Notices;

/// <summary>By what a notice goes out. The slugs stand in answers of the API.</summary>
internal enum RouteKind
{
    EMail,
    Webhook,
    Mqtt,
    Lamp,
    Desktop,
}

/// <summary>What the bench file says of notices. No secret stands here, only where one is kept.</summary>
internal sealed record NoticeSettings
{
    public static NoticeSettings None { get; } = new();

    /// <summary>In the order of the file.</summary>
    public IReadOnlyList<RouteSettings> Routes { get; init; } = [];

    public HeartbeatSettings? Heartbeat { get; init; }

    public PageNotices Page { get; init; } = new();

    /// <summary>What keeps a route from working as it is written; watching goes on.</summary>
    public IReadOnlyList<FileMistake> Warnings { get; init; } = [];
}

/// <summary>How the page calls: by sound and by spoken text.</summary>
internal sealed record PageNotices
{
    public AlarmPriority LeastPriority { get; init; } = AlarmPriority.High;

    public bool Sound { get; init; } = true;

    public bool Speech { get; init; } = true;
}

/// <summary>One way out, and what goes by it.</summary>
internal sealed record RouteSettings
{
    public required string Id { get; init; }

    public required RouteKind Kind { get; init; }

    /// <summary>Where it stands, for messages.</summary>
    public required string File { get; init; }

    public required int Line { get; init; }

    public AlarmPriority LeastPriority { get; init; } = AlarmPriority.Medium;

    /// <summary>Escalation: told only what nobody has answered for by then. Zero tells at once.</summary>
    public TimeSpan After { get; init; }

    /// <summary>Whether it is also told when an alarm is over or acknowledged.</summary>
    public bool FollowUps { get; init; }

    /// <summary>Local times of day between which all but the top priority waits; null where nothing does.</summary>
    public TimeOnly? QuietFrom { get; init; }

    public TimeOnly? QuietTo { get; init; }

    /// <summary>Most notices within <see cref="Within"/>; what is beyond them goes into a digest. Source: common practice, no source.</summary>
    public int Most { get; init; } = 6;

    public TimeSpan Within { get; init; } = TimeSpan.FromMinutes(10);

    /// <summary>Why it can't work as it is written; null where it can be tried.</summary>
    public string? Trouble { get; init; }

    public MailSettings? Mail { get; init; }

    public WebhookSettings? Webhook { get; init; }

    public MqttSettings? Mqtt { get; init; }

    public LampSettings? Lamp { get; init; }

    public DesktopSettings? Desktop { get; init; }

    /// <summary>Whether a local time of day lies in the quiet hours; they may go over midnight.</summary>
    public bool IsQuiet(TimeOnly local) =>
        QuietFrom is { } from && QuietTo is { } to && (from <= to ? local >= from && local < to : local >= from || local < to);
}

/// <summary>Where a secret is kept: in a variable of the environment, or in a file that only its owner may read.</summary>
internal sealed record SecretPlace(string? Variable, string? File)
{
    /// <summary>For messages.</summary>
    public string Name => Variable ?? File!;
}

internal enum MailSecurity
{
    /// <summary>Begins in the clear and turns to TLS before anything is said; refused where the server can't.</summary>
    Starttls,
    Tls,
    None,
}

internal sealed record MailSettings
{
    public required string Host { get; init; }

    public required int Port { get; init; }

    public MailSecurity Security { get; init; }

    public string? User { get; init; }

    public SecretPlace? Password { get; init; }

    public required string From { get; init; }

    public required IReadOnlyList<string> To { get; init; }

    /// <summary>A PEM file of certificates to trust instead of the system's.</summary>
    public string? TrustFile { get; init; }
}

internal sealed record WebhookSettings
{
    /// <summary>Null where what is written is no URL.</summary>
    public WebAddress? Url { get; init; }

    /// <summary>Null sends unsigned.</summary>
    public SecretPlace? Secret { get; init; }

    public string? TrustFile { get; init; }
}

internal sealed record MqttSettings
{
    public required string Host { get; init; }

    public required int Port { get; init; }

    public bool Tls { get; init; }

    public string? User { get; init; }

    public SecretPlace? Password { get; init; }

    public required string Topic { get; init; }

    public string? TrustFile { get; init; }

    /// <summary>3.1.1 for a broker that knows no 5; it can't say that it refused a message.</summary>
    public bool IsOldProtocol { get; init; }
}

/// <summary>A contact that closes while an alarm waits for an answer.</summary>
internal sealed record LampSettings
{
    public required int Chip { get; init; }

    public required int Pin { get; init; }

    /// <summary>Whether a low level closes the contact, as on many relay boards.</summary>
    public bool ActiveLow { get; init; }

    /// <summary>A horn falls silent after so long and sounds again with the next alarm; null for a lamp that stays lit.</summary>
    public TimeSpan? Longest { get; init; }
}

internal sealed record DesktopSettings
{
    /// <summary>Address of the session's bus; null takes that of the environment.</summary>
    public string? Bus { get; init; }
}

/// <summary>A sign of life to the outside, given only while judging and storing go on.</summary>
internal sealed record HeartbeatSettings
{
    public required int Line { get; init; }

    public required string File { get; init; }

    public TimeSpan Every { get; init; } = TimeSpan.FromMinutes(1);

    public WebAddress? Url { get; init; }

    public string? TrustFile { get; init; }

    public MqttSettings? Mqtt { get; init; }

    public string? Trouble { get; init; }
}
