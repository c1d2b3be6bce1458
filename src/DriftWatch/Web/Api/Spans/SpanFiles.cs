using System.Globalization;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Reports.Plots;
using DriftWatch.Running;

namespace DriftWatch.Web.Api.Spans;

/// <summary>
/// A span as a picture or a table, by the code that <c>driftwatch plot</c> and <c>driftwatch export</c> run, so that page and command line give the
/// same. Up to <see cref="Readings"/> from every reading, beyond it from columns with their least and greatest.
/// </summary>
internal static class SpanFiles
{
    /// <summary>Longest span that is made from every reading. Source: our own choice, a night with its evening: half a gigabyte of text at 20 channels and 10 Hz.</summary>
    public static readonly TimeSpan Readings = QuantityDesk.Longest;

    /// <summary>Columns a picture of a longer span is made from: two a pixel of its usual width.</summary>
    public const int PictureColumns = 3000;

    /// <summary>One file is made at a time: watching comes first.</summary>
    private static readonly SemaphoreSlim One = new(1, 1);

    public static bool IsOfReadings(SpanRequest request) => request.Seconds <= Readings.TotalSeconds;

    /// <summary>PNG or SVG; null where no reading lies in the span.</summary>
    /// <exception cref="QuantitiesUntoldException">Its derived quantities can't be told.</exception>
    public static async Task<Stream?> PictureAsync(SpanRequest request, QuantityDesk desk, bool isSvg, PlotStyle style, CancellationToken cancel)
    {
        IReadOnlyList<Trace> derived = await DerivedAsync(request, desk, cancel);
        IReadOnlyList<Trace> then = request.Compared is { } compared ? await DerivedAsync(compared, desk, cancel) : [];
        await One.WaitAsync(cancel);
        try
        {
            return await Task.Run(
                () =>
                {
                    if (Read(request, derived, then, cancel) is not { } data)
                    {
                        return null;
                    }

                    var stream = new MemoryStream();
                    var plot = new BenchPlot(data, style);
                    if (isSvg)
                    {
                        plot.WriteSvg(stream);
                    }
                    else
                    {
                        plot.WritePng(stream);
                    }

                    stream.Position = 0;
                    return stream;
                },
                cancel);
        }
        finally
        {
            One.Release();
        }
    }

    /// <summary>The plain recording of the span, in a file that goes away when the stream is closed; null where no reading lies in it.</summary>
    /// <exception cref="QuantitiesUntoldException">Its derived quantities can't be told.</exception>
    public static async Task<Stream?> CsvAsync(SpanRequest request, QuantityDesk desk, bool readings, int columns, CancellationToken cancel)
    {
        SpanTable? table = readings ? null : await SpanTable.ReadAsync(request, desk, columns, cancel);
        await One.WaitAsync(cancel);
        string? folder = null;
        try
        {
            folder = Directory.CreateTempSubdirectory("driftwatch-span-").FullName;
            string path = Path.Combine(folder, "span.csv");
            long rows = await Task.Run(() => readings ? WriteReadingsAsync(path, request, cancel) : table!.WriteAsync(path), cancel);
            return rows == 0 ? null : new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.None, 65_536, FileOptions.Asynchronous | FileOptions.DeleteOnClose);
        }
        finally
        {
            One.Release();
            DeleteWhatMayGo(folder);
        }
    }

    /// <summary><c>practice-2026-01-15T170000Z</c>, so that files of a bench sort by time.</summary>
    public static string NameOf(SpanRequest request, string what) => string.Create(
        CultureInfo.InvariantCulture,
        $"{request.View.Bench.Id}-{UtcText.ToDateTimeOffset(request.FromUtc):yyyy-MM-dd'T'HHmmss'Z'}-{(request.ToUtc - request.FromUtc) / 60_000_000_000L}min{what}");

    private static async Task<IReadOnlyList<Trace>> DerivedAsync(SpanRequest request, QuantityDesk desk, CancellationToken cancel)
    {
        if (request.Quantities.Count == 0)
        {
            return [];
        }

        SpanGrid grid = request.Grid(PictureColumns, SpanQuantitiesAnswer.Tick);
        IReadOnlyList<IReadOnlyList<Bucket>> columns = await desk.ColumnsAsync(request.View, request.Quantities, grid, cancel);
        return [.. request.Quantities.Select((q, i) => PlotData.TraceOf(q.AsChannel(SpanQuantitiesAnswer.Tick), columns[i], grid))];
    }

    private static PlotData? Read(SpanRequest request, IReadOnlyList<Trace> derived, IReadOnlyList<Trace> then, CancellationToken cancel)
    {
        IReadOnlyList<FindingLine> findings = request.View.FindingsBetween(request.From, request.To, SpanEventsAnswer.MostLines);
        PlotData? other = request.Compared is { } compared ? ReadChannels(compared, [], cancel)?.With(then, null, NoBaselines, []) : null;
        return ReadChannels(request, findings, cancel)?.With(derived, other, request.WithBaselines ? BaselinesOf(request) : NoBaselines, findings);
    }

    private static readonly Dictionary<string, double> NoBaselines = [];

    private static Dictionary<string, double> BaselinesOf(SpanRequest request) =>
        request.View.Baselines().LastOrDefault(b => b.UtcNanoseconds < request.ToUtc)?.Values.DistinctBy(v => v.Channel, StringComparer.Ordinal)
            .ToDictionary(v => v.Channel, v => v.Value, StringComparer.Ordinal) ?? [];

    private static PlotData? ReadChannels(SpanRequest request, IReadOnlyList<FindingLine> findings, CancellationToken cancel)
    {
        IBenchView view = request.View;
        if (IsOfReadings(request))
        {
            using IInputSource feed = Feed(request);
            return PlotData.Read(feed, view.Bench, request.Channels, request.FromUtc, request.ToUtc, findings, null, cancel);
        }

        SpanGrid grid = request.Grid(PictureColumns);
        IReadOnlyList<IReadOnlyList<Bucket>> columns = view.Columns(request.Channels, grid);
        var anchors = new AnchorTable();
        foreach (TimeAnchor anchor in grid.Anchors(view))
        {
            anchors.Add(anchor);
        }

        return columns.All(c => c.Count == 0) ? null : PlotData.Of(view.Bench, request.Channels, columns, grid, anchors, findings);
    }

    /// <summary>Single readings as columns have them: what was calibrated later and applied back is shown by that.</summary>
    private static IInputSource Feed(SpanRequest request)
    {
        IInputSource read = request.View.ReadAgain(request.FromUtc, request.ToUtc);
        return AppliedBack.Over(read, read);
    }

    private static async Task<long> WriteReadingsAsync(string path, SpanRequest request, CancellationToken cancel)
    {
        using IInputSource feed = Feed(request);
        await using var target = new CsvExport(path, request.Channels, decimals: null, withExtremes: true);
        ExportSummary summary = await new WideRows(request.Channels, request.FromUtc, request.ToUtc, target).RunAsync(feed, null, cancel);
        await target.CompleteAsync();
        return summary.Rows;
    }

    /// <summary>An open file goes with its last reader where the system allows it; else the folder is left to the system's own cleaning.</summary>
    public static void DeleteWhatMayGo(string? folder)
    {
        if (folder is null)
        {
            return;
        }

        try
        {
            Directory.Delete(folder, recursive: true);
        }
        catch (IOException)
        {
        }
        catch (UnauthorizedAccessException)
        {
        }
    }
}
