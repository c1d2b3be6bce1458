using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Configuration.Keys;

/// <summary>Every key of a bench file's notices.</summary>
internal static class NoticeKeys
{
    private static readonly KeyDefinition User = new("user", KeyKind.Text, "The name to sign in with.", "\"bench\"") { Default = "no sign-in" };
    private static readonly KeyDefinition PasswordEnv = new("password-env", KeyKind.Text, "Name of the variable of the environment that holds the password.", "\"DRIFTWATCH_PASSWORD\"");
    private static readonly KeyDefinition PasswordFile = new("password-file", KeyKind.Text, "File that holds the password, readable by its owner only; from the folder of the bench file.", "\"mail-password\"");
    public static readonly KeyDefinition TrustFile = new("trust-file", KeyKind.Text, "PEM file of the certificates to trust where the system does not; from the folder of the bench file.", "\"house-issuer.pem\"") { Default = "the system's" };

    public static readonly KeyDefinition UrlEnv = new("url-env", KeyKind.Text, "In place of url: name of the variable of the environment that holds it, where the URL is a key itself.", "\"DRIFTWATCH_WEBHOOK_URL\"");
    public static readonly KeyDefinition UrlFile = new("url-file", KeyKind.Text, "In place of url: file that holds it, readable by its owner only; from the folder of the bench file.", "\"webhook-url\"");

    public static readonly TableDefinition Mail = new(
        "[notice.e-mail]",
        "E-mail by SMTP.",
        [
            new("host", KeyKind.Text, "The mail server.", "\"mail.example.org\"") { Required = true },
            new("port", KeyKind.Integer, "Its port.", "587") { Default = "587 for starttls, 465 for tls, 25 for none", Minimum = 1, Maximum = 65535 },
            new("security", KeyKind.Choice, "starttls: begins in the clear and turns to TLS, or sends nothing; tls: TLS from the start; none: in the clear, and then no password.", "\"starttls\"") { Choices = ["starttls", "tls", "none"], Default = "\"starttls\"" },
            User,
            PasswordEnv,
            PasswordFile,
            new("from", KeyKind.Text, "The sender's address.", "\"bench-1@example.org\"") { Required = true },
            new("to", KeyKind.Texts, "Who is told.", "[\"night-shift@example.org\"]") { Required = true, Minimum = 1, Maximum = 20 },
            TrustFile,
        ]);

    public static readonly TableDefinition Webhook = new(
        "[notice.webhook]",
        "A POST of JSON to a URL.",
        [
            new("url", KeyKind.Text, "Where to; https unless it is on this machine or a line of your own. It stands in the store, its backups and the exact log, as the bench file does: one that is a key itself belongs into url-env or url-file.", "\"https://example.org/bench\"") { Maximum = 2000 },
            UrlEnv,
            UrlFile,
            new("secret-env", KeyKind.Text, "Name of the variable of the environment that holds the secret to sign with.", "\"DRIFTWATCH_WEBHOOK_SECRET\"") { Default = "unsigned" },
            new("secret-file", KeyKind.Text, "File that holds the secret, readable by its owner only; from the folder of the bench file.", "\"webhook-secret\"") { Default = "unsigned" },
            TrustFile,
        ]);

    private static readonly IReadOnlyList<KeyDefinition> BrokerKeys =
    [
        new("host", KeyKind.Text, "The broker.", "\"broker.example.org\"") { Required = true },
        new("port", KeyKind.Integer, "Its port.", "8883") { Default = "8883 with tls, 1883 without", Minimum = 1, Maximum = 65535 },
        new("topic", KeyKind.Text, "Where to; no + and no #.", "\"annex/bench-1/notices\"") { Required = true, Maximum = 1000 },
        new("tls", KeyKind.Flag, "Whether the connection is TLS.", "true") { Default = "false" },
        new("protocol", KeyKind.Choice, "Version of MQTT. A broker of 3.1.1 can't say that it refused a message.", "\"5\"") { Choices = ["5", "3.1.1"], Default = "\"5\"" },
        User,
        PasswordEnv,
        PasswordFile,
        TrustFile,
    ];

    public static readonly TableDefinition Mqtt = new("[notice.mqtt]", "A message to an MQTT broker, quality of service 1.", BrokerKeys);

    public static readonly TableDefinition Lamp = new(
        "[notice.lamp]",
        "A lamp or a horn on a GPIO contact of a Linux board: closed while an alarm of the route's priority waits for an answer. It warns only: hang nothing of the machine on it.",
        [
            new("chip", KeyKind.Integer, "Number of the chip: 0 for /dev/gpiochip0.", "0") { Default = "0", Minimum = 0, Maximum = 255 },
            new("line", KeyKind.Integer, "Number of the chip's line.", "17") { Required = true, Minimum = 0, Maximum = 1023 },
            new("active-low", KeyKind.Flag, "True where a low level closes the contact, as on many relay boards.", "true") { Default = "false" },
            new("longest", KeyKind.Duration, "For a horn: how long it sounds; it sounds again with the next alarm.", "\"30 s\"") { Default = "until all is answered", Minimum = 1, Maximum = 3600 },
        ]);

    public static readonly TableDefinition Desktop = new(
        "[notice.desktop]",
        "A notification on the desktop of this computer.",
        [
            new("bus", KeyKind.Text, "Address of the session's bus, where the service does not run in the session itself.", "\"unix:path=/run/user/1000/bus\"") { Default = "that of the environment" },
        ]);

    public static readonly TableDefinition Notice = new(
        "[[notice]]",
        "A route by which people are told of alarms: exactly one of e-mail, webhook, mqtt, lamp, desktop.",
        [
            new("id", KeyKind.Slug, "Stays for ever: what waits for this route waits under it.", "\"night-shift\"") { Required = true },
            new("least-priority", KeyKind.Choice, "The least priority that is told.", "\"high\"") { Choices = Slugs.All<AlarmPriority>(), Default = "\"medium\"" },
            new("after", KeyKind.Duration, "Escalation: told only if nobody has answered for the alarm by then.", "\"5 min\"") { Default = "\"0 s\"", Minimum = 0, Maximum = 86400 },
            new("follow-ups", KeyKind.Flag, "Whether it is also told when the cause of an alarm it was told of is said, and when it is acknowledged or over. Not of a lamp.", "true") { Default = "false" },
            new("quiet-from", KeyKind.Text, "Time from which all but the top priority waits; it comes as one digest. Local time of the computer that the service runs on; `check` says its zone.", "\"22:00\"") { Default = "never", Minimum = 5, Maximum = 5 },
            new("quiet-to", KeyKind.Text, "Time at which the quiet hours end, in the same zone.", "\"07:00\"") { Default = "never", Minimum = 5, Maximum = 5 },
            new("most", KeyKind.Integer, "Most notices in the span 'within'; what is beyond them comes in one digest. The top priority is counted apart. Not of a lamp.", "6") { Default = "6", Minimum = 1, Maximum = 1000 },
            new("within", KeyKind.Duration, "The span for 'most'. Not of a lamp.", "\"10 min\"") { Default = "\"10 min\"", Minimum = 1, Maximum = 86400 },
            new("e-mail", KeyKind.Table, "E-mail.", "[notice.e-mail]") { Child = Mail },
            new("webhook", KeyKind.Table, "Webhook.", "[notice.webhook]") { Child = Webhook },
            new("mqtt", KeyKind.Table, "MQTT.", "[notice.mqtt]") { Child = Mqtt },
            new("lamp", KeyKind.Table, "Lamp or horn.", "[notice.lamp]") { Child = Lamp },
            new("desktop", KeyKind.Table, "Desktop.", "[notice.desktop]") { Child = Desktop },
        ]);

    public static readonly TableDefinition PageNotice = new(
        "[page]",
        "How the page calls.",
        [
            new("least-priority", KeyKind.Choice, "The least priority that it calls for; whoever looks at the page can add the medium one there.", "\"medium\"") { Choices = Slugs.All<AlarmPriority>(), Default = "\"high\"" },
            new("sound", KeyKind.Flag, "Whether it sounds.", "false") { Default = "true" },
            new("speech", KeyKind.Flag, "Whether it speaks the alarm's sentence.", "false") { Default = "true" },
        ]);

    public static readonly TableDefinition HeartbeatBroker = new("[heartbeat.mqtt]", "A message to an MQTT broker, quality of service 1.", BrokerKeys);

    public static readonly TableDefinition Heartbeat = new(
        "[heartbeat]",
        "A sign of life to the outside, given only while judging and storing go on: url, url-env, url-file or mqtt.",
        [
            new("every", KeyKind.Duration, "How often.", "\"1 min\"") { Default = "\"1 min\"", Minimum = 1, Maximum = 86400 },
            new("url", KeyKind.Text, "Asked by GET. It stands in the store, its backups and the exact log, as the bench file does.", "\"https://example.org/alive/bench-1\"") { Maximum = 2000 },
            UrlEnv,
            UrlFile,
            TrustFile,
            new("mqtt", KeyKind.Table, "MQTT.", "[heartbeat.mqtt]") { Child = HeartbeatBroker },
        ]);
}
