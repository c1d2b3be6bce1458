using System.CommandLine;
using System.Globalization;
using DriftWatch.Configuration;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch notices</c>: tries the routes by which people are told of alarms.</summary>
internal static class NoticesCommand
{
    public static Command Create()
    {
        var command = new Command("notices", "The routes by which people are told of alarms. They only tell: DriftWatch is no safety interlock.");
        command.Subcommands.Add(CreateTest());
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch notices test annex.toml", "a test by every route of the bench, and what became of each"));
    }

    private static Command CreateTest()
    {
        var bench = new Argument<string>("BENCH") { Description = "The bench file (TOML)." };
        var route = new Option<string?>("--route") { Description = "Id of the one route to test. Default: all." };
        var by = new Option<string>("--by") { Description = "Who asks; said in the test.", DefaultValueFactory = _ => Environment.UserName is { Length: > 0 } name ? name : "somebody" };
        Option<string[]> profiles = SourceArguments.Profiles();
        var command = new Command("test", "Sends a test by each route of a bench and says what happened. Nothing is kept and nothing is tried again.")
        {
            bench, route, by, profiles,
        };
        command.SetAction((parsed, cancel) => RunAsync(
            parsed.GetRequiredValue(bench), parsed.GetValue(route), parsed.GetRequiredValue(by),
            SourceArguments.FoldersOf(parsed.GetValue(profiles)), parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, cancel));
        return command.WithHelp(
            notSound: "a route did not take the test; what it said was printed",
            new HelpExample("driftwatch notices test annex.toml --route night-shift", "a test by one route"));
    }

    /// <summary>What a warning of the routes looks like, in the form of a mistake.</summary>
    internal static string Warning(string file, int line, int column, string what, string remedy) =>
        string.Create(CultureInfo.InvariantCulture, $"{file}({line},{column}): warning: {what}; {remedy}");

    /// <summary>Tries every route, and the heartbeat, as far as that goes without telling anybody. Gives the warnings.</summary>
    internal static async Task<IReadOnlyList<string>> CheckAsync(LoadedBench bench, CancellationToken cancel)
    {
        NoticeSettings settings = bench.Notices;
        IEnumerable<Task<string?>> tries = settings.Routes.Where(r => r.Trouble is null).Select(async route =>
        {
            await using INoticeRoute way = RouteMaker.Make(route, bench.Definition.Id + "-try", TimeProvider.System);
            RouteAnswer answer = await RouteMaker.TryAsync(way.CheckAsync, TimeProvider.System, cancel);
            return answer.Done || settings.Warnings.Any(w => w.What == answer.Said) ? null : Warning(route.File, route.Line, 1, $"route {route.Id}: {answer.Said}", answer.Remedy ?? "its notices wait until it works");
        });
        if (settings.Heartbeat is { Trouble: null } heartbeat)
        {
            tries = tries.Append(CheckAsync(heartbeat, bench.Definition.Id, cancel));
        }

        string?[] said = await Task.WhenAll(tries);
        return [.. settings.Warnings.Select(w => Warning(w.File, w.Line, w.Column, w.What, w.Remedy)), .. said.OfType<string>()];
    }

    private static async Task<string?> CheckAsync(HeartbeatSettings settings, string bench, CancellationToken cancel)
    {
        await using var heartbeat = new Notices.Alive.Heartbeat(settings, bench + "-try", () => null, TimeProvider.System, NullLogger.Instance);
        RouteAnswer answer = await RouteMaker.TryAsync(heartbeat.CheckAsync, TimeProvider.System, cancel);
        return answer.Done ? null : Warning(settings.File, settings.Line, 1, $"heartbeat: {answer.Said}", answer.Remedy ?? "look at where it goes");
    }

    private static async Task<int> RunAsync(
        string path, string? only, string by, IReadOnlyList<string> folders, TextWriter output, TextWriter error, CancellationToken cancel)
    {
        BenchFileResult result = BenchFile.Load(path, folders);
        LoadedBench bench = result.Bench ?? throw new CommandException(ExitCode.BadInput, string.Join(Environment.NewLine, result.Mistakes));
        RouteSettings[] routes = [.. bench.Notices.Routes.Where(r => only is null || r.Id == only)];
        if (routes.Length == 0)
        {
            throw new CommandException(
                ExitCode.BadInput,
                bench.Notices.Routes.Count == 0 ? $"{path} has no [[notice]]; nobody would be told but on the page" : $"{path} has no route '{only}'; it has {string.Join(", ", bench.Notices.Routes.Select(r => r.Id))}");
        }

        foreach (FileMistake warning in bench.Notices.Warnings)
        {
            error.WriteLine(Warning(warning.File, warning.Line, warning.Column, warning.What, warning.Remedy));
        }

        var writer = new NoticeWriter(bench.Definition.Id, bench.Definition.Label, TimeProvider.System.LocalTimeZone);
        bool isSound = true;
        foreach (RouteSettings settings in routes)
        {
            await using INoticeRoute route = RouteMaker.Make(settings, bench.Definition.Id + "-try", TimeProvider.System);
            RouteTest test = await NoticeDesk.TestOneAsync(settings, route, writer, by, TimeProvider.System, NullLogger.Instance, cancel);
            isSound &= test.Done;
            string remedy = test.Done || test.Remedy is null ? "" : $"; {test.Remedy}";
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{settings.Id}: {(test.Done ? "sent" : "NOT sent")} in {test.Took.TotalSeconds:0.00} s: {test.Said}{remedy}"));
        }

        return isSound ? ExitCode.Done : ExitCode.NotSound;
    }
}
