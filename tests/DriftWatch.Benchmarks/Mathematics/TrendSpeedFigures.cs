using System.Diagnostics;
using System.Globalization;
using DriftWatch.Analysis.Trend;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>
/// Theil-Sen and Mann-Kendall against SciPy and base R in the same run, each timing itself without its start, by processor time, so that a machine with other work to do is no matter; and readings a second of
/// the slopes that go along. A peer gets four gigabytes of address space; what it does beyond them is printed.
/// </summary>
public static class TrendSpeedFigures
{
    private const string SciPySen = """
        import sys, time, numpy as np
        from scipy import stats
        n = int(sys.argv[1]); t = np.arange(n) * 0.1; y = np.random.default_rng(1).normal(size=n) + 1e-5 * t
        stats.theilslopes(y[:50], t[:50])
        start = time.process_time(); stats.theilslopes(y, t); print(time.process_time() - start)
        """;

    private const string SciPyTau = """
        import sys, time, numpy as np
        from scipy import stats
        n = int(sys.argv[1]); t = np.arange(n) * 0.1; y = np.random.default_rng(1).normal(size=n) + 1e-5 * t
        stats.kendalltau(t[:50], y[:50])
        start = time.process_time(); stats.kendalltau(t, y); print(time.process_time() - start)
        """;

    private const string BaseR = """
        n <- as.integer(commandArgs(TRUE)[1]); t <- (0:(n - 1)) * 0.1; set.seed(1); y <- rnorm(n) + 1e-5 * t
        s <- system.time({ k <- outer(y, y, "-") / outer(t, t, "-"); median(k[lower.tri(k)]) }); cat(s[["user.self"]] + s[["sys.self"]])
        """;

    public static void Run(TextWriter output, Size size)
    {
        int[] sizes = size == Size.Full ? [1_000, 3_000, 10_000, 100_000] : [500];
        output.WriteLine("Theil-Sen with Sen's interval, seconds of processor (ours best of three); SciPy theilslopes; base R by outer differences, median only");
        output.WriteLine("| n | pairs | ours | SciPy | SciPy/ours | base R | R/ours |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (int n in sizes)
        {
            (double[] t, double[] y) = Record(n);
            double own = Best(() => TheilSen.Fit(t, y));
            string scipy = Peer("/usr/bin/python3", ["-c", SciPySen, $"{n}"]);
            string r = Peer("Rscript", ["--vanilla", "-e", BaseR, $"{n}"]);
            output.WriteLine($"| {n:N0} | {(long)n * (n - 1) / 2:N0} | {own:0.0000} | {scipy} | {Ratio(scipy, own)} | {r} | {Ratio(r, own)} |");
            output.Flush();
        }

        output.WriteLine();
        output.WriteLine("Mann-Kendall, seconds of processor (ours best of three); SciPy kendalltau gives tau and p of the same pairs");
        output.WriteLine("| n | ours | SciPy | SciPy/ours |");
        output.WriteLine("|---|---|---|---|");
        foreach (int n in size == Size.Full ? (int[])[1_000, 10_000, 100_000, 1_000_000] : [500])
        {
            (double[] _, double[] y) = Record(n);
            double own = Best(() => MannKendall.Test(y));
            string scipy = Peer("/usr/bin/python3", ["-c", SciPyTau, $"{n}"]);
            output.WriteLine($"| {n:N0} | {own:0.00000} | {scipy} | {Ratio(scipy, own)} |");
        }

        output.WriteLine();
        output.WriteLine("A quantised night, one of Drift and a slope that goes along");
        output.WriteLine("| what | figure |");
        output.WriteLine("|---|---|");
        int night = size == Size.Full ? 100_000 : 1_000;
        (double[] times, double[] values) = Record(night);
        double[] steps = [.. values.Select(v => Math.Round(v * 5) / 5)];
        output.WriteLine($"| Theil-Sen, {night:N0} points of about forty levels | {Best(() => TheilSen.Fit(times, steps)):0.000} s |");
        output.WriteLine($"| Drift, {night:N0} points | {Best(() => Drift.Estimate(times, values)):0.000} s |");
        output.WriteLine($"| Hamed-Rao, {night:N0} points, all lags | {Best(() => HamedRao.Test(values)):0.000} s |");
        var window = new WindowSlope(6_000);
        var fading = new FadingSlope(600);
        var medians = new BlockMediansSlope(101, 60);
        int readings = size == Size.Full ? 20_000_000 : 200_000;
        double held = 0;
        output.WriteLine($"| WindowSlope over 6,000 | {Rate(readings, values, window.Add):0.0} M readings/s |");
        output.WriteLine($"| FadingSlope | {Rate(readings, values, fading.Add):0.0} M readings/s |");
        double rate = Rate(readings, values, (time, value) =>
        {
            medians.Add(time, value);
            held = medians.Slope.IsKnown ? medians.Slope.Value : held;
        });
        output.WriteLine($"| BlockMediansSlope, 60 blocks of 101, asked for after every reading | {rate:0.0} M readings/s |");
    }

    private static (double[] T, double[] Y) Record(int n)
    {
        var noise = new NoisyLine(1);
        double[] y = noise.Next(n, 0, Spoiled.No, 1e-6);
        return ([.. Enumerable.Range(0, n).Select(i => i * 0.1)], y);
    }

    private static double Best<T>(Func<T> work)
    {
        // Once before, so that compiling is not counted.
        work();
        double best = double.PositiveInfinity;
        for (int i = 0; i < 3; i++)
        {
            TimeSpan start = Environment.CpuUsage.TotalTime;
            work();
            best = Math.Min(best, (Environment.CpuUsage.TotalTime - start).TotalSeconds);
        }

        return best;
    }

    private static double Rate(int readings, double[] values, Action<double, double> add)
    {
        TimeSpan start = Environment.CpuUsage.TotalTime;
        for (int i = 0, k = 0; i < readings; i++, k = k + 1 == values.Length ? 0 : k + 1)
        {
            add(i * 0.1, values[k]);
        }

        return readings / (Environment.CpuUsage.TotalTime - start).TotalSeconds / 1e6;
    }

    private static string Ratio(string peer, double own) =>
        double.TryParse(peer, CultureInfo.InvariantCulture, out double seconds) ? $"{seconds / own:0.0} x" : "";

    /// <summary>Seconds as the peer printed them, or what became of it.</summary>
    private static string Peer(string program, string[] arguments)
    {
        var start = new ProcessStartInfo("/bin/sh") { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        start.ArgumentList.Add("-c");
        start.ArgumentList.Add("ulimit -v 4000000; exec \"$0\" \"$@\"");
        start.ArgumentList.Add(program);
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        using Process process = Process.Start(start)!;
        Task<string> errors = process.StandardError.ReadToEndAsync();
        string printed = process.StandardOutput.ReadToEnd().Trim();
        process.WaitForExit();
        if (process.ExitCode == 0 && double.TryParse(printed, CultureInfo.InvariantCulture, out double seconds))
        {
            return $"{seconds:0.0000}";
        }

        string last = errors.Result.Trim().Split('\n').FirstOrDefault(line => line.Contains("allocate", StringComparison.OrdinalIgnoreCase)) ?? "not here or failed";
        return last.Length > 90 ? last[..90] : last;
    }
}
