using System.Globalization;
using DriftWatch.Analysis.Stability;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>
/// Speed against peers in one run: Allan deviation against its definition (written apart from it below, in the same
/// language), robust scales against R's robustbase, autocorrelation against R's acf and SciPy's fftconvolve. R and Python
/// are processes that time themselves, start-up not counted.
/// </summary>
public static class NoisePeers
{
    public static void Run(TextWriter output, Size size)
    {
        output.WriteLine("Speed against peers, same numbers in one run, best of 3, seconds of processor time:");
        output.WriteLine("| what | size | here | peer | peer/here |");
        output.WriteLine("|---|---|---|---|---|");
        foreach (int n in size == Size.Full ? (int[])[10_000, 100_000] : [2000])
        {
            double[] x = new NoisyLine(20260208).Next(n, 0.5, Spoiled.No);
            int[] ms = [.. Enumerable.Range(0, 30).Select(k => 1 << k).Where(m => n / m >= 5)];
            double here = Best(() => ms.Sum(m => AllanDeviation.Overlapping(x, m).Value));
            double peer = Best(() => ms.Sum(m => ByDefinition(x, m)), n > 20_000 ? 1 : 3);
            Row(output, "overlapping Allan, all octaves, against its definition", n, here, peer);
        }

        foreach (int n in size == Size.Full ? (int[])[10_000, 100_000, 1_000_000] : [10_000])
        {
            double[] x = Lehmer(n);
            const string made = "m <- 2147483647; s <- 20260101; x <- numeric(n); for (i in 1:n) { s <- (16807*s) %% m; x[i] <- s/m };";
            string time = "best <- function(f) min(sapply(1:3, function(i) sum(system.time(f())[1:2])));";
            string code = $"suppressMessages(library(robustbase)); n <- {n}L; {made} {time} cat('t', best(function() Qn(x)), best(function() Sn(x)), best(function() mad(x)), best(function() acf(x, lag.max={Lags(n)}, plot=FALSE)), '\\n')";
            double[]? r = Ask("Rscript", "--vanilla", "-e", code);
            Row(output, "Qn, against robustbase", n, Best(() => RobustScale.Qn(x).Value), r?[0]);
            Row(output, "Sn, against robustbase", n, Best(() => RobustScale.Sn(x).Value), r?[1]);
            Row(output, "MAD, against R's mad", n, Best(() => RobustScale.Mad(x).Value), r?[2]);
            Row(output, $"autocorrelation to lag {Lags(n)}, against R's acf", n, Best(() => Autocorrelation.UpTo(x, Lags(n)).Value[1]), r?[3]);
            string python = $"import time,numpy as np\nfrom scipy.signal import fftconvolve\nn={n};s=20260101;x=np.empty(n)\nfor i in range(n):\n  s=s*16807%2147483647;x[i]=s/2147483647\nb=9e9\nfor i in range(3):\n  t=time.process_time();d=x-x.mean();c=fftconvolve(d,d[::-1])[n-1:n+{Lags(n)}]/(d@d);b=min(b,time.process_time()-t)\nprint('t',b)";
            Row(output, $"autocorrelation to lag {Lags(n)}, against SciPy's fftconvolve", n, Best(() => Autocorrelation.UpTo(x, Lags(n)).Value[1]), Ask("/usr/bin/python3", "-c", python)?[0]);
        }

        output.WriteLine();
    }

    private static int Lags(int n) => Math.Min(n / 2, 1000);

    /// <summary>Every average anew, every difference of neighbours: as the definition reads.</summary>
    private static double ByDefinition(double[] y, int m)
    {
        double sum = 0;
        int count = 0;
        for (int i = 0; i + (2 * m) <= y.Length; i++)
        {
            double first = 0;
            double second = 0;
            for (int k = 0; k < m; k++)
            {
                first += y[i + k];
                second += y[i + m + k];
            }

            double difference = (second - first) / m;
            sum += difference * difference;
            count++;
        }

        return Math.Sqrt(sum / (2 * count));
    }

    private static double[] Lehmer(int n)
    {
        long s = 20260101;
        var x = new double[n];
        for (int i = 0; i < n; i++)
        {
            s = s * 16807 % 2147483647;
            x[i] = s / 2147483647.0;
        }

        return x;
    }

    private static double Best(Func<double> run, int rounds = 3)
    {
        double best = double.MaxValue;
        for (int round = 0; round < rounds; round++)
        {
            TimeSpan before = Environment.CpuUsage.TotalTime;
            double result = run();
            best = Math.Min(best, (Environment.CpuUsage.TotalTime - before).TotalSeconds);
            GC.KeepAlive(result);
        }

        return best;
    }

    private static double[]? Ask(string file, params string[] arguments)
    {
        try
        {
            using var child = new ChildProcess(file, arguments);
            string said = child.Finish(TimeSpan.FromMinutes(5));
            string line = said.Split('\n').Last(l => l.StartsWith("t ", StringComparison.Ordinal));
            return [.. line.Split(' ', StringSplitOptions.RemoveEmptyEntries).Skip(1).Select(w => double.Parse(w, CultureInfo.InvariantCulture))];
        }
        catch (Exception exception) when (exception is System.ComponentModel.Win32Exception or InvalidOperationException)
        {
            return null;
        }
    }

    private static void Row(TextWriter output, string what, int n, double here, double? peer) =>
        output.WriteLine($"| {what} | {n:N0} | {here:0.0000} | {(peer is { } p ? $"{p:0.0000} | {(p > 0 ? p / here : 0):0.0}" : "not here | ")} |");
}
