using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Findings;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Playwright;

namespace DriftWatch.Benchmarks;

/// <summary>
/// The live page in Chromium at 1920 x 1080 over loopback: how soon it shows values, how old they are on the screen, what twenty listeners
/// cost the service, and whether a night leaves anything behind in the browser. Targets: first values ≤ 500 ms, a value on the screen
/// ≤ 300 ms after its instrument said it, 20 clients at 40 channels × 10 Hz ≤ 6 % of a core, heap flat and &lt; 200 MB over 12 h fed at 120 times real time.
/// </summary>
public static class LiveFigures
{
    private const int Clients = 20;
    private const int Boards = 4;
    private const double Times = 120;

    /// <summary>The readings of the board that is looked at count up by this, so that what is on the screen tells which line it was in.</summary>
    private const double Step = 0.001;
    private const double First = 0.5;
    private const int Lines = 4000;

    public static void Run(TextWriter output, Size size) => RunAsync(output, size).GetAwaiter().GetResult();

    private static async Task RunAsync(TextWriter output, Size size)
    {
        using IPlaywright playwright = await Playwright.CreateAsync();
        await using IBrowser browser = await Chromium.LaunchAsync(playwright);
        await FirstValuesAsync(output, size, browser);
        await AgeAsync(output, size, browser);
        await ListenersAsync(output, size);
        await HeapAsync(output, size, browser);
    }

    private static async Task FirstValuesAsync(TextWriter output, Size size, IBrowser browser)
    {
        using var folder = new TempFolder();
        using ChildProcess service = ServiceFigures.Start(PracticeBench.BenchFilePath, folder.At("store"), out Uri page);
        ServiceFigures.Settle(size);
        var times = new List<double>();
        var paints = new List<double>();
        for (int i = 0; i < (size == Size.Full ? 11 : 2); i++)
        {
            IPage opened = await Chromium.NewPageAsync(browser); // in a context of its own: nothing is in its cache
            await opened.GotoAsync(page.ToString());
            await opened.WaitForFunctionAsync("() => performance.getEntriesByName('driftwatch-first-values').length > 0");
            times.Add(await opened.EvaluateAsync<double>("() => performance.getEntriesByName('driftwatch-first-values')[0].startTime"));
            await opened.WaitForFunctionAsync("() => performance.getEntriesByName('first-contentful-paint').length > 0");
            paints.Add(await opened.EvaluateAsync<double>("() => performance.getEntriesByName('first-contentful-paint')[0].startTime"));
            await opened.CloseAsync();
        }

        output.WriteLine(Invariant($"live, first contentful paint, the head of the page without values: {Median(paints):0} ms after the navigation (first {paints[0]:0}, worst {paints.Max():0})"));
        output.WriteLine(Invariant($"live, first values of 20 channels on the screen: {Median(times):0} ms after the navigation (median of {times.Count}, first {times[0]:0}, worst {times.Max():0}; target 500)"));
    }

    /// <summary>A board on a pseudo-terminal says numbers that count up; the page tells when each was in a frame.</summary>
    private static async Task AgeAsync(TextWriter output, Size size, IBrowser browser)
    {
        using var folder = new TempFolder();
        using var boards = new StreamingBoards(folder, 1);
        string bench = folder.At("bench.toml");
        await File.WriteAllTextAsync(bench, boards.WholeBenchText);
        using StreamingBoards.Talking talking = boards.Talk((line, _) => First + (line % Lines * Step));
        using ChildProcess service = ServiceFigures.Start(bench, folder.At("store"), out Uri page);
        IPage opened = await Chromium.NewPageAsync(browser);
        await opened.GotoAsync(page.ToString());
        await opened.WaitForFunctionAsync("() => performance.getEntriesByName('driftwatch-first-values').length > 0");
        await opened.EvaluateAsync(
            """
            () => {
              const number = document.querySelector('[data-channel="board-1-rf-head-1"] .number');
              window.shown = [];
              new MutationObserver(() => {
                const text = number.textContent;
                requestAnimationFrame(() => {
                  const { port1, port2 } = new MessageChannel();
                  port1.onmessage = () => shown.push([text, performance.timeOrigin + performance.now()]);
                  port2.postMessage(null);
                });
              }).observe(number, { childList: true, characterData: true, subtree: true });
            }
            """);
        ServiceFigures.Settle(size);
        await opened.EvaluateAsync("() => { shown.length = 0; }");
        Waiting.For(TimeSpan.FromSeconds(size == Size.Full ? 60 : 3));
        JsonElement shown = await opened.EvaluateAsync<JsonElement>("() => shown");
        await opened.CloseAsync();

        var ages = new List<double>();
        foreach (JsonElement one in shown.EnumerateArray())
        {
            double value = double.Parse(one[0].GetString()!, CultureInfo.InvariantCulture);
            int line = (int)Math.Round((value - First) / Step);
            lock (talking.SaidAt)
            {
                ages.Add(one[1].GetDouble() - talking.SaidAt[line]);
            }
        }

        if (ages.Count < 10 || ages.Min() < -1)
        {
            throw new InvalidOperationException($"Only {ages.Count} numbers were seen on the screen, or one before it was said.");
        }

        ages.Sort();
        output.WriteLine(Invariant($"live, a value on the screen after its board had said it: median {ages[ages.Count / 2]:0} ms, 99 % within {ages[(int)(ages.Count * 0.99)]:0}, worst {ages[^1]:0} of {ages.Count} (target 300)"));
    }

    /// <summary>Forty channels from four boards; the listeners are in this process, what is counted is the service's.</summary>
    private static async Task ListenersAsync(TextWriter output, Size size)
    {
        using var folder = new TempFolder();
        using var boards = new StreamingBoards(folder, Boards);
        string bench = folder.At("bench.toml");
        await File.WriteAllTextAsync(bench, boards.WholeBenchText);
        var random = new Random(5);
        using StreamingBoards.Talking talking = boards.Talk((_, field) => field == StreamingBoards.Fields - 1 ? 1 : 2.5 + (random.Next(-20, 21) / 10_000.0));
        using ChildProcess service = ServiceFigures.Start(bench, folder.At("store"), out Uri page);
        ServiceFigures.Settle(size);
        TimeSpan span = TimeSpan.FromSeconds(size == Size.Full ? 60 : 3);
        double alone = ServiceFigures.Measure(output, service, span, "40 channels at 10 Hz, nobody listens");
        StreamingBoards.CheckRead(page, "boards", Boards);

        using var client = new HttpClient();
        using var stop = new CancellationTokenSource();
        long[] messages = new long[Clients];
        Task[] listeners = [.. Enumerable.Range(0, Clients).Select(i => ListenAsync(i))];
        ServiceFigures.Settle(size);
        long[] before = [.. messages];
        double with = ServiceFigures.Measure(output, service, span, $"{Clients} clients listen");
        double least = messages.Zip(before, (after, then) => (after - then) / span.TotalSeconds).Min();
        output.WriteLine(Invariant($"live, {Clients} clients at 40 channels x 10 Hz: {with - alone:0.0} % of a core more than none (target 6), {least:0.0} looks a second for the one with the fewest"));
        await stop.CancelAsync();
        await Task.WhenAll(listeners);
        if (least < 5)
        {
            throw new InvalidOperationException("A client was not told what it was to be told.");
        }

        async Task ListenAsync(int i)
        {
            try
            {
                await using Stream stream = await client.GetStreamAsync(new Uri(page, "/api/v1/benches/boards/live"), stop.Token);
                using var reader = new StreamReader(stream);
                while (await reader.ReadLineAsync(stop.Token) is { } line)
                {
                    messages[i] += line == "event: numbers" ? 1 : 0;
                }
            }
            catch (OperationCanceledException)
            {
                // Asked for.
            }
        }
    }

    /// <summary>
    /// A bench whose clock, and the feed with it, runs 120 times as fast: what comes in twelve hours comes in six minutes, with a finding
    /// raised and ended every five of its minutes. The heap is looked at after a collection.
    /// </summary>
    private static async Task HeapAsync(TextWriter output, Size size, IBrowser browser)
    {
        double hours = size == Size.Full ? 12 : 0.5;
        var time = new FastTime(Times);
        var bench = new FakeBench(time);
        await using ServedBench served = await ServedBench.StartAsync(
            new WebSettings(), builder => builder.Services.AddSingleton<TimeProvider>(time), bench);
        IPage page = await Chromium.NewPageAsync(browser);
        await page.AddInitScriptAsync(
            """
            window.heard = 0;
            const listen = EventSource.prototype.addEventListener;
            EventSource.prototype.addEventListener = function (name, take) {
              listen.call(this, name, name === 'numbers' ? event => { heard++; take(event); } : take);
            };
            """);
        await page.GotoAsync(served.Address.ToString());
        await page.WaitForFunctionAsync("() => performance.getEntriesByName('driftwatch-first-values').length > 0");
        ICDPSession tools = await page.Context.NewCDPSessionAsync(page);
        var heap = new List<double>();
        long start = Stopwatch.GetTimestamp();
        int findings = 0;
        double Fed() => Stopwatch.GetElapsedTime(start).TotalHours * Times;
        while (Fed() < hours)
        {
            string channel = bench.Bench.Channels[findings % bench.Bench.Channels.Count].Id;
            FindingLine raised = bench.Say(bench.MakeFinding($"practice.limit.{channel}.{++findings}", "limit", channel, $"Beyond its limit, time {findings}."));
            await Task.Delay(TimeSpan.FromSeconds(150 / Times), TimeProvider.System);
            bench.End(raised);
            await Task.Delay(TimeSpan.FromSeconds(150 / Times), TimeProvider.System);
            if (Fed() > hours * heap.Count / 24)
            {
                await tools.SendAsync("HeapProfiler.collectGarbage");
                heap.Add((await tools.SendAsync("Runtime.getHeapUsage"))!.Value.GetProperty("usedSize").GetDouble() / 1e6);
            }
        }

        long heard = await page.EvaluateAsync<long>("() => heard");
        string link = await page.EvaluateAsync<string>("() => document.body.dataset.link");
        await page.CloseAsync();
        double early = Median(heap[(heap.Count / 6)..(heap.Count / 2)]), late = Median(heap[(heap.Count / 2)..]);
        output.WriteLine(Invariant(
            $"live, heap of a page fed {hours:0.#} h at {Times:0} times real time: after collection {heap[0]:0.0} MB at first, {early:0.0} in the first half, {late:0.0} in the second, greatest {heap.Max():0.0} (target: flat, < 200); {heard:N0} looks of {hours * 36_000:N0} heard, {findings} findings, link {link} at the end"));
    }

    private static double Median(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return sorted[sorted.Length / 2];
    }

    private static string Invariant(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
