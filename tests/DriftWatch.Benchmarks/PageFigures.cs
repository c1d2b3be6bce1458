using System.Diagnostics;
using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Storage;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Playwright;

namespace DriftWatch.Benchmarks;

/// <summary>
/// How long the page of the night takes: 12 h of 20 channels at 10 Hz and a year, asked for by a program over loopback and opened, zoomed
/// and moved in Chromium. The store is on the disk, the service in this process. Targets: open ≤ 1 s, zoom or move ≤ 150 ms.
/// </summary>
/// <remarks>
/// The year's channels are read every ten seconds, or its 6 billion values would take hours to make; see <see cref="LongStore"/>. From a minute's
/// rollups on, a store reads the same rows whatever the rate. DRIFTWATCH_PAGE_DAYS sets its days (default 365; 0: the night alone).
/// </remarks>
public static class PageFigures
{
    private const int Columns = 1200;
    private const int Times = 15;
    private static readonly DateTimeOffset NightBegins = new(2026, 3, 1, 18, 0, 0, TimeSpan.Zero);
    private static readonly DateTimeOffset YearBegins = new(2025, 3, 1, 0, 0, 0, TimeSpan.Zero);

    public static void Run(TextWriter output, Size size) => RunAsync(output, size).GetAwaiter().GetResult();

    private static async Task RunAsync(TextWriter output, Size size)
    {
        double hours = size == Size.Full ? 12 : 0.2;
        using var night = new TempFolder();
        Fill(night.Path, PracticeBench.Night(TimeSpan.FromHours(hours), NightBegins));
        await MeasureAsync(output, night.Path, $"{hours:0.#} h of 20 channels at 10 Hz", NightBegins, TimeSpan.FromHours(hours), null, size == Size.Full ? 10 : 1);

        double days = size == Size.Smoke ? 0.2
            : double.TryParse(Environment.GetEnvironmentVariable("DRIFTWATCH_PAGE_DAYS"), CultureInfo.InvariantCulture, out double given) ? given
            : 365;
        if (days == 0)
        {
            return;
        }

        using var year = new TempFolder();
        long start = Stopwatch.GetTimestamp();
        LongStore.Make(year.Path, PracticeBench.TwentyAtTenHertz, YearBegins, (int)Math.Ceiling(days * 24));
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{days:0.#} days of 20 channels, a reading each 10 s and a tick each 100 ms: {Directory.EnumerateFiles(year.Path).Sum(f => new FileInfo(f).Length) / 1e6:0} MB, made in {Stopwatch.GetElapsedTime(start).TotalSeconds:0} s"));
        await MeasureAsync(output, year.Path, $"{days:0.#} days of one channel", YearBegins, TimeSpan.FromDays(days), "regulated-air");
        await MeasureAsync(output, year.Path, $"{days:0.#} days of 20 channels", YearBegins, TimeSpan.FromDays(days), null);
    }

    private static void Fill(string folder, IEnumerable<EngineInput> inputs)
    {
        using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions { BallastBytes = 0 });
        int pieces = 0;
        foreach (EngineInput[] piece in inputs.Chunk(60_000))
        {
            store.Append(piece);
            if (++pieces % 20 == 0)
            {
                store.MergeDue();
            }
        }

        while (store.MergeDue() > 0)
        {
        }
    }

    /// <summary>A service of its own for each view, so that its first answer is a cold one.</summary>
    private static async Task MeasureAsync(TextWriter output, string folder, string what, DateTimeOffset begin, TimeSpan length, string? channels, int rounds = 3)
    {
        using var view = new StoredView(folder);
        await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), view);
        await served.Client.GetByteArrayAsync(new Uri("api/v1/benches", UriKind.Relative)); // the first answer of a process compiles
        string bench = view.Bench.Id;
        string chosen = channels is null ? "" : "&channels=" + channels;

        double cold = await AskAsync(begin, begin + length);
        double warm = await MedianAsync(_ => (begin, begin + length));
        double moved = await MedianAsync(i => (begin + (length * (0.01 * (i + 1))), begin + (length * (1 + (0.01 * (i + 1))))));
        double zoomed = await MedianAsync(i => (begin + (length * (0.02 * i)), begin + (length * ((0.02 * i) + (1.0 / (i + 2))))));
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{what}: columns cold {cold:0} ms, again {warm:0} ms, moved by a hundredth {moved:0} ms, zoomed elsewhere {zoomed:0} ms (median of {Times}; loopback, compressed)"));
        if (length <= TimeSpan.FromHours(36) && channels is null)
        {
            await DerivedAsync();
        }

        await InBrowserAsync(output, new Uri(served.Address, $"night.html?from={Iso(begin)}&to={Iso(begin + length)}{chosen}"), what, rounds);

        async Task DerivedAsync()
        {
            var told = new List<string>();
            foreach (double share in (double[])[1, 1, 0.5, 0.25, 0.1, 0.03, 0.01, 0.01])
            {
                DateTimeOffset from = begin + (length * 0.4);
                double ms = await AskAsync(share == 1 ? begin : from, (share == 1 ? begin : from) + (length * share), "/quantities");
                told.Add(string.Create(CultureInfo.InvariantCulture, $"{(length * share).TotalMinutes:0} min {ms:0}"));
            }

            output.WriteLine($"{what}: its {view.Bench.Quantities.Count} derived quantities, ms one after the other: {string.Join(", ", told)}");
        }

        async Task<double> AskAsync(DateTimeOffset from, DateTimeOffset to, string which = "")
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, new Uri($"api/v1/benches/{bench}/span{which}?from={Iso(from)}&to={Iso(to)}&columns={Columns}{chosen}", UriKind.Relative));
            request.Headers.AcceptEncoding.ParseAdd("br");
            long start = Stopwatch.GetTimestamp();
            using HttpResponseMessage response = await served.Client.SendAsync(request);
            response.EnsureSuccessStatusCode();
            await response.Content.ReadAsByteArrayAsync();
            return Stopwatch.GetElapsedTime(start).TotalMilliseconds;
        }

        async Task<double> MedianAsync(Func<int, (DateTimeOffset From, DateTimeOffset To)> span)
        {
            var times = new List<double>();
            for (int i = 0; i < Times; i++)
            {
                (DateTimeOffset from, DateTimeOffset to) = span(i);
                times.Add(await AskAsync(from, to));
            }

            times.Sort();
            return times[Times / 2];
        }
    }

    /// <summary>
    /// From the navigation, and from a key, until every lane in view is drawn with the columns of the new span that the service answered, its pixels
    /// included: the page marks it once the frame in which it drew is over. Of it, until the answer's first byte and its last were here.
    /// </summary>
    private static async Task InBrowserAsync(TextWriter output, Uri address, string what, int rounds)
    {
        using IPlaywright playwright = await Playwright.CreateAsync();
        await using IBrowser browser = await Chromium.LaunchAsync(playwright);
        var opened = new List<double>();
        var acted = new Dictionary<string, List<double[]>> { ["+"] = [], ["PageDown"] = [], ["-"] = [] };
        for (int round = 0; round < rounds; round++)
        {
            IPage page = await Chromium.NewPageAsync(browser);
            await page.GotoAsync(address.ToString());
            await page.WaitForFunctionAsync("() => document.body.dataset.columns");
            opened.Add(await page.EvaluateAsync<double>("() => performance.getEntriesByName('columns drawn')[0].startTime"));
            await page.WaitForFunctionAsync("() => document.body.dataset.story");
            await page.Locator("#axis").FocusAsync();
            foreach (string key in (string[])["+", "PageDown", "+", "PageDown", "-", "-"])
            {
                acted[key].Add(await page.EvaluateAsync<double[]>(
                    """
                    async key => {
                      performance.clearMarks('columns drawn');
                      performance.clearResourceTimings();
                      const start = performance.now();
                      document.getElementById('axis').dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
                      while (performance.getEntriesByName('columns drawn').length === 0) await new Promise(requestAnimationFrame);
                      const drawn = performance.getEntriesByName('columns drawn')[0].startTime;
                      const [asked] = performance.getEntriesByType('resource').filter(e => e.name.includes('/span?'));
                      return [drawn, asked?.responseStart ?? drawn, asked?.responseEnd ?? drawn].map(at => at - start);
                    }
                    """,
                    key));
                await Task.Delay(TimeSpan.FromMilliseconds(600), TimeProvider.System); // its story comes meanwhile
            }

            await page.CloseAsync();
        }

        double[][] every = [.. acted.Values.SelectMany(a => a)];
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{what}, in Chromium at 1920 x 1080: opened, all lanes in view drawn, {opened[0]:0} ms (then {string.Join(", ", opened.Skip(1).Select(o => o.ToString("0", CultureInfo.InvariantCulture)))}); "
            + $"zoomed in {Told(acted["+"], 0)}, moved by half {Told(acted["PageDown"], 0)}, zoomed out {Told(acted["-"], 0)} ms (median, 95 %, worst); "
            + $"all {every.Length} together {Told(every, 0)}, of it to the answer's first byte {Told(every, 1)}, to its last {Told(every, 2)}"));

        static string Told(IReadOnlyCollection<double[]> all, int part)
        {
            List<double> times = [.. all.Select(a => a[part]).Order()];
            return string.Create(CultureInfo.InvariantCulture, $"{times[times.Count / 2]:0} ({times[(int)(0.95 * (times.Count - 1))]:0}, {times[^1]:0})");
        }
    }

    private static string Iso(DateTimeOffset at) => at.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", CultureInfo.InvariantCulture);
}
