using DriftWatch.Cli;
using DriftWatch.Configuration;
using DriftWatch.Notices.Routes;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Mirror;

/// <summary>Tries the mirrors of a bench file: a point that says that somebody tried is written, which no page of readings shows.</summary>
internal static class MirrorCheck
{
    public const string Measurement = "driftwatch_check";

    /// <returns>A warning for each that does not work.</returns>
    public static async Task<IReadOnlyList<string>> TryAsync(LoadedBench bench, CancellationToken cancel)
    {
        string?[] said = await Task.WhenAll(bench.Mirrors.Mirrors.Where(m => m.Url is not null).Select(m => TryAsync(m, bench.Definition.Id, cancel)));
        return [.. said.OfType<string>()];
    }

    private static async Task<string?> TryAsync(MirrorSettings settings, string bench, CancellationToken cancel)
    {
        try
        {
            using var way = new MirrorConnection(settings, TimeProvider.System);
            LineServer server = way.Server;
            var line = new LineText();
            line.Begin(LineText.Head(Measurement, [("bench", bench)]));
            line.Field("tried", 1L);
            line.End(TimeProvider.System.GetUtcNow().ToUnixTimeMilliseconds());
            SendAnswer answer = await server.SendAsync(line.Take(), cancel);
            (string? what, string remedy) = answer.IsTaken ? (null, "") : (answer.Said, MirrorLane.RemedyFor(answer));
            if (answer.IsTaken && settings.Counts != CountWay.None)
            {
                (what, remedy) = await WhyNoCountAsync(server, settings, bench, cancel);
            }

            return what is null ? null : NoticesCommand.Warning(settings.File, settings.Line, 1, $"mirror {settings.Id}: {what}", remedy);
        }
        catch (SecretException exception)
        {
            return NoticesCommand.Warning(settings.File, settings.Line, 1, $"mirror {settings.Id}: {exception.Message}", exception.Remedy);
        }
    }

    private static async Task<(string? What, string Remedy)> WhyNoCountAsync(LineServer server, MirrorSettings settings, string bench, CancellationToken cancel)
    {
        try
        {
            await ServerCounts.AskAsync(server, settings, bench, 0, 1, cancel);
            return (null, "");
        }
        catch (Exception exception) when (exception is HttpRequestException or FormatException || (exception is TaskCanceledException && !cancel.IsCancellationRequested))
        {
            return ($"it takes lines and can't be asked for counts: {exception.Message}", "look at counts of [[mirror]]; without them a line that it drops goes unnoticed");
        }
    }
}
