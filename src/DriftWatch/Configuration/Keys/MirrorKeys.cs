using DriftWatch.Measurement.Channels;
using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Configuration.Keys;

/// <summary>Every key of a bench file's mirrors.</summary>
internal static class MirrorKeys
{
    public static readonly TableDefinition Mirror = new(
        "[[mirror]]",
        "A time-series server that is kept level with the bench's store, so that a site sees many benches together. It takes the InfluxDB line protocol. Nothing waits for it.",
        [
            new("id", KeyKind.Slug, "Stays for ever: how far the server has come is kept under it.", "\"annex\"") { Required = true },
            new("url", KeyKind.Text, "Base address of the server; https unless it is on this machine or a line of your own. It stands in the store, its backups and the exact log, as the bench file does: one that is a key itself belongs into url-env or url-file.", "\"https://series.example.org:8428\"") { Maximum = 2000 },
            NoticeKeys.UrlEnv,
            NoticeKeys.UrlFile,
            new("way", KeyKind.Choice, "v2: /api/v2/write with a token; v1: /write with a database.", "\"v1\"") { Choices = Slugs.All<WriteWay>(), Default = "\"v2\"" },
            new("bucket", KeyKind.Text, "The bucket, or the database of the older way. A server that has neither ignores it.", "\"driftwatch\"") { Default = "\"driftwatch\"", Maximum = 200 },
            new("organisation", KeyKind.Text, "The organisation, where the server has any.", "\"archive\"") { Default = "none", Maximum = 200 },
            new("user", KeyKind.Text, "The name to sign in with. Without it the key is sent as a token.", "\"bench\"") { Default = "none" },
            new("key-env", KeyKind.Text, "Name of the variable of the environment that holds the token or password.", "\"DRIFTWATCH_MIRROR_KEY\"") { Default = "no sign-in" },
            new("key-file", KeyKind.Text, "File that holds the token or password, readable by its owner only; from the folder of the bench file.", "\"mirror-key\"") { Default = "no sign-in" },
            NoticeKeys.TrustFile,
            new("counts", KeyKind.Choice, "How the server is asked how many readings it holds: a server may say yes and drop a line, and only counts tell. promql: /api/v1/query; influxql: /query; flux: /api/v2/query. By the same way the page Site asks for all benches of the server.", "\"promql\"") { Choices = Slugs.All<CountWay>(), Default = "\"influxql\" with way = \"v1\", else \"none\"" },
            new("detail", KeyKind.Choice, "How much of the readings the server gets: every reading; or for each channel one line a second or a minute with mean, least, greatest, number of values and of faults, which is enough for years of many benches. Counts are compared of readings only. A changed detail is sent from the beginning.", "\"minute\"") { Choices = Slugs.All<MirrorDetail>(), Default = "\"reading\"" },
            new("site", KeyKind.Text, "Value of the tag site, where one server holds several sites.", "\"annex\"") { Default = "no such tag", Maximum = 100 },
            new("past", KeyKind.Flag, "Whether what was stored before the mirror was set up is sent too.", "false") { Default = "true" },
            new("tell-after", KeyKind.Duration, "Behind or waiting for longer than this, people are told, at medium priority.", "\"30 min\"") { Default = "\"30 min\"", Minimum = 60, Maximum = 604800 },
        ]);
}
