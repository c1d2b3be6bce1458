using System.CommandLine;
using System.Globalization;
using System.Text.Json;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Channels;
using DriftWatch.Mirror;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using DriftWatch.Site;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch site</c>: all benches that are mirrored to one server.</summary>
internal static class SiteCommand
{
    private static readonly JsonSerializerOptions Json = new(JsonSerializerDefaults.Web) { WriteIndented = true };

    public static Command Create(TimeProvider? time = null)
    {
        var url = new Option<Uri>("--url")
        {
            Description = "Base address of the server, as the bench files' [[mirror]] has it.",
            HelpName = "URL",
            Required = true,
            CustomParser = result =>
            {
                if (WebAddress.Parse(result.Tokens[0].Value) is { UserInfo: "" } address)
                {
                    return address;
                }

                result.AddError($"'{result.Tokens[0].Value}' after --url is no URL of a web server; write it as https://series.example.org:8428, without name and password");
                return null!;
            },
        };
        var reads = new Option<string>("--reads") { Description = "The language in which the server is asked.", HelpName = "LANGUAGE", Required = true };
        reads.AcceptOnlyFromAmong([.. Slugs.All<CountWay>().Where(w => w != Slugs.Of(CountWay.None))]);
        var database = new Option<string>("--database") { Description = "The database of influxql, the bucket of flux.", HelpName = "NAME", DefaultValueFactory = _ => "driftwatch" };
        var organisation = new Option<string?>("--organisation") { Description = "The organisation, for flux. Default: none.", HelpName = "NAME" };
        var user = new Option<string?>("--user") { Description = "The name to sign in with. Default: none; the key alone is a token.", HelpName = "NAME" };
        var key = new Option<string?>("--key-env") { Description = "Name of the variable of the environment that holds the token or password. Default: no sign-in.", HelpName = "NAME" };
        var trust = new Option<string?>("--trust-file") { Description = "File of certificates, in PEM, by whose issuers the server is trusted. Default: what this computer trusts.", HelpName = "FILE" };
        var json = new Option<bool>("--json") { Description = "JSON: one object with the benches and their alarms." };
        var command = new Command(
            "site",
            "Lists the benches that are mirrored to a time-series server: those with alarms that nobody has answered first, then those that are silent, then by the greatest share of a tolerance in use. "
            + "What is told is as old as it says; the bench's own page and store are the truth.")
        {
            url, reads, database, organisation, user, key, trust, json,
        };
        command.SetAction(async (parsed, cancel) =>
        {
            string? variable = parsed.GetValue(key);
            if (parsed.GetValue(user) is not null && variable is null)
            {
                throw new CommandException(ExitCode.Usage, "--user needs a password; name the variable that holds it with --key-env");
            }

            var options = new LineServerOptions
            {
                Url = parsed.GetRequiredValue(url),
                Bucket = parsed.GetValue(database)!,
                Organisation = parsed.GetValue(organisation),
                User = parsed.GetValue(user),
                Key = variable is null ? null : () => Secrets.Read(new SecretPlace(variable, null)),
            };
            TimeProvider clock = time ?? TimeProvider.System;
            if (parsed.GetValue(trust) is { } file && BenchFile.WhyUnreadable(file) is { } why)
            {
                throw new CommandException(ExitCode.BadInput, $"{file} can't be read: {why.TrimEnd('.')}; name a file of certificates after --trust-file");
            }

            var judge = new CertificateJudge(parsed.GetValue(trust), clock);
            var way = new LineServer(options, new SocketsHttpHandler { AllowAutoRedirect = false, SslOptions = new() { RemoteCertificateValidationCallback = judge.Accept } });
            using ISiteServer server = SiteServers.Open(Enum.GetValues<CountWay>().First(w => Slugs.Of(w) == parsed.GetRequiredValue(reads)), way, options.Bucket);
            IReadOnlyList<SiteBench> benches = await ReadAsync(server, clock, judge, cancel);
            if (parsed.GetValue(json))
            {
                parsed.InvocationConfiguration.Output.WriteLine(JsonSerializer.Serialize(SiteAnswer.Of(benches, clock.GetUtcNow()), Json));
            }
            else
            {
                Write(benches, parsed.InvocationConfiguration.Output);
            }

            return benches.Any(b => b.IsSilent || b.Standing.Unanswered > 0) ? ExitCode.NotSound : ExitCode.Done;
        });
        return command.WithHelp(
            notSound: "a bench is silent, or has an alarm that nobody has answered",
            new HelpExample("driftwatch site --url http://localhost:8428 --reads promql", "all benches of the server"),
            new HelpExample("driftwatch site --url https://series.example.org:8086 --reads influxql --user reader --key-env READER_KEY --json", "the same for a program"));
    }

    private static async Task<IReadOnlyList<SiteBench>> ReadAsync(ISiteServer server, TimeProvider time, CertificateJudge judge, CancellationToken cancel)
    {
        try
        {
            return await new SiteView(server, time).ReadAsync(cancel);
        }
        catch (SecretException exception)
        {
            throw new CommandException(ExitCode.BadInput, $"{exception.Message}; {exception.Remedy}");
        }
        catch (Exception exception) when (exception is HttpRequestException or FormatException || (exception is TaskCanceledException && !cancel.IsCancellationRequested))
        {
            throw new CommandException(ExitCode.BadInput, $"the server can't be asked: {judge.Complaint ?? RouteWords.Line(exception)}; look at --url, --reads, --database and the key");
        }
    }

    private static void Write(IReadOnlyList<SiteBench> benches, TextWriter output)
    {
        if (benches.Count == 0)
        {
            output.WriteLine("No bench has told this server anything within the last week. Is it the server of the bench files' [[mirror]]?");
            return;
        }

        TextTable.Write(
            output,
            ["bench", "site", "state", "tape", "unanswered", "alarms", "tolerance used", "channels silent", "told"],
            benches.Select(b => (string[])
            [
                b.Bench,
                b.Site ?? "",
                b.IsSilent ? "silent" : Slugs.Of(b.Standing.State).Replace('-', ' '),
                PassWords(b.Pass),
                b.IsSilent ? "not known" : Number(b.Standing.Unanswered),
                b.IsSilent ? "not known" : Number(b.Standing.Alarms),
                b.IsSilent || b.Standing.WorstUse is not { } use ? "not known" : string.Create(CultureInfo.InvariantCulture, $"{use * 100:0} %{DriftWords(b.Drift)}"),
                b.IsSilent ? "not known" : Number(b.Standing.Silent),
                Ago(b.Age),
            ]));
        // Of one that is silent nothing is known now: what it told last is said as that.
        foreach ((SiteBench bench, SiteAlarm alarm) in benches.SelectMany(b => b.Alarms.Select(a => (b, a))))
        {
            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"{bench.Bench}{(bench.Site is { } site ? $" ({site})" : "")}: {alarm.Alarm} {(bench.IsSilent ? $"was, when it told last {Ago(bench.Age)}," : "is")} {Slugs.Of(alarm.State).Replace('-', ' ')}, {Slugs.Of(alarm.Priority)} priority{(alarm.Value is { } value ? $", {value:0.###} {alarm.Unit}" : "")}{(alarm.Limit is { } limit ? $" (limit {limit:0.###} {alarm.Unit})" : "")}, since {alarm.Since.UtcDateTime:yyyy-MM-dd HH:mm:ss} UTC"));
        }
    }

    private static string PassWords(SitePass? pass) => pass is null ? "none" : $"{pass.Tape}, pass {Number(pass.Number)}: {(pass.Verdict is { } verdict ? Slugs.Of(verdict) : Slugs.Of(pass.Stage)).Replace('-', ' ')}";

    private static string DriftWords(SiteDrift? drift) => drift is null ? ""
        : string.Create(CultureInfo.InvariantCulture, $", {drift.Of}{(drift.MinutesLeft is { } left ? $", {left:0} min left" : "")}");

    private static string Number(int number) => number.ToString(CultureInfo.InvariantCulture);

    private static string Ago(TimeSpan age) => age < TimeSpan.FromMinutes(2)
        ? string.Create(CultureInfo.InvariantCulture, $"{age.TotalSeconds:0} s ago")
        : age < TimeSpan.FromHours(2) ? string.Create(CultureInfo.InvariantCulture, $"{age.TotalMinutes:0} min ago") : string.Create(CultureInfo.InvariantCulture, $"{age.TotalHours:0} h ago");
}
