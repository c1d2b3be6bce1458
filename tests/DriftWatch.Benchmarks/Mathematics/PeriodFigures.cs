using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Events;
using DriftWatch.Analysis.Relations;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>False alarms and coverage of periods by simulation with fixed seeds, and the speed of spectra and of what streams.</summary>
public static class PeriodFigures
{
    private static readonly double[] Rhos = [0, 0.3, 0.7, 0.9];

    public static void Run(TextWriter output, Size size)
    {
        int rounds = size == Size.Full ? 1000 : 3;
        FalseAlarms(output, rounds);
        Coverage(output, rounds);
    }

    public static void Speed(TextWriter output, Size size)
    {
        Streaming(output, size == Size.Full ? 20_000_000 : 200_000);
        Spectra(output, size);
    }

    private static void FalseAlarms(TextWriter output, int all)
    {
        output.WriteLine($"Records without a period called periodic at 5 %, % of the records, uneven times: Baluev's bound on plain power, and the finder's likelihood ratio (of those answered):");
        output.WriteLine("| rho | n | n_eff | records | plain power % | finder % | answered % |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (double effective in (double[])[40, 120])
        {
            foreach (double rho in Rhos)
            {
                int n = NoisyLine.SizeFor(effective, rho);
                if (!RowFilter.Wants($"| {rho} | {n} | {effective} |"))
                {
                    continue;
                }

                int rounds = RecoveryFigures.RoundsFor(n, all);
                var noise = new NoisyLine(20260421);
                var random = new Random(20260422);
                int plain = 0, claimed = 0, answered = 0;
                for (int round = 0; round < rounds; round++)
                {
                    // One in ten samples is missing.
                    int[] kept = [.. Enumerable.Range(0, n).Where(_ => random.NextDouble() > 0.1)];
                    double[] whole = noise.Next(n, rho, Spoiled.No);
                    double[] t = [.. kept.Select(i => (double)i)];
                    double[] y = [.. kept.Select(i => whole[i])];
                    double length = t[^1] - t[0];
                    var grid = FrequencyGrid.Between(4, length / 3, length);
                    plain += FalseAlarm.OfHighest(LombScargle.Generalised(t, y, grid).Value.Max(), t, grid.Last - grid.First) <= 0.05 ? 1 : 0;
                    Answer<Periodicity> found = PeriodFinder.Find(t, y, 4, length / 3);
                    answered += found.IsKnown ? 1 : 0;
                    claimed += found.IsKnown && found.Value.IsClaimed() ? 1 : 0;
                }

                output.WriteLine($"| {rho} | {n} | {effective} | {rounds} | {100.0 * plain / rounds:0.0} | {RecoveryFigures.Share(claimed, answered)} | {RecoveryFigures.Share(answered, rounds)} |");
            }
        }

        output.WriteLine();
    }

    private static void Coverage(TextWriter output, int all)
    {
        output.WriteLine($"A sawtooth of period 23.7 samples, duty 0.3, peak to peak 4 in noise of deviation 1:");
        output.WriteLine("| rho | n | records | period claimed % | period's interval covers % | duty within 1.96 errors % | sawtooth's period within 1.96 errors % | error of the period (RMS) |");
        output.WriteLine("|---|---|---|---|---|---|---|---|");
        foreach (double rho in Rhos)
        {
            int n = NoisyLine.SizeFor(120, rho);
            if (!RowFilter.Wants($"| saw | {rho} | {n} |"))
            {
                continue;
            }

            int rounds = RecoveryFigures.RoundsFor(n, all);
            var noise = new NoisyLine(20260423);
            var random = new Random(20260424);
            double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
            int claimed = 0, covered = 0, duty = 0, sawPeriod = 0, saws = 0;
            double squares = 0;
            for (int round = 0; round < rounds; round++)
            {
                double phase = random.NextDouble();
                double[] y = noise.Next(n, rho, Spoiled.No);
                for (int i = 0; i < n; i++)
                {
                    double part = ((i / 23.7) + phase) % 1;
                    y[i] += 4 * (part < 0.3 ? part / 0.3 : (1 - part) / 0.7);
                }

                Answer<Periodicity> found = PeriodFinder.Find(t, y, 5, n / 3.0);
                if (!found.IsKnown || !found.Value.IsClaimed())
                {
                    continue;
                }

                claimed++;
                covered += found.Value.Lower <= 23.7 && 23.7 <= found.Value.Upper ? 1 : 0;
                squares += (found.Value.PeriodSeconds - 23.7) * (found.Value.PeriodSeconds - 23.7);
                Answer<SawtoothFit> saw = Sawtooth.Fit(t, y, found.Value.PeriodSeconds);
                if (saw.IsKnown)
                {
                    saws++;
                    duty += Math.Abs(saw.Value.RiseShare - 0.3) <= 1.96 * saw.Value.RiseShareError ? 1 : 0;
                    sawPeriod += Math.Abs(saw.Value.PeriodSeconds - 23.7) <= 1.96 * saw.Value.PeriodError ? 1 : 0;
                }
            }

            output.WriteLine($"| {rho} | {n} | {rounds} | {100.0 * claimed / rounds:0.0} | {RecoveryFigures.Share(covered, claimed)} | {RecoveryFigures.Share(duty, saws)} | {RecoveryFigures.Share(sawPeriod, saws)} | {Math.Sqrt(squares / Math.Max(1, claimed)):0.000} |");
        }

        output.WriteLine();
    }

    private static void Streaming(TextWriter output, int count)
    {
        double[] wave = [.. new NoisyLine(20260425).Next(1 << 16, 0.9, Spoiled.No)];
        output.WriteLine($"Streaming, million samples a second on one core, {count:N0} samples, best of 3:");
        output.WriteLine("| what | M/s |");
        output.WriteLine("|---|---|");
        double excursions = Best(() =>
        {
            var detector = new ExcursionDetector(new ExcursionRule(ExcursionSide.Above, 1.5, 1) { MinSeparationSeconds = 3 });
            int told = 0;
            for (int i = 0; i < count; i++)
            {
                told += detector.Add(i, wave[i & 0xFFFF], out _) ? 1 : 0;
            }

            return told;
        });
        double lines = Best(() =>
        {
            var line = new RecursiveLine(0.999);
            double sum = 0;
            for (int i = 0; i < count; i++)
            {
                line.Add(wave[i & 0xFFFF], wave[(i + 7) & 0xFFFF], out double residual);
                sum += residual;
            }

            return sum;
        });
        output.WriteLine($"| excursion detector | {count / excursions / 1e6:0.0} |");
        output.WriteLine($"| recursive line | {count / lines / 1e6:0.0} |");
        output.WriteLine();
    }

    private static void Spectra(TextWriter output, Size size)
    {
        output.WriteLine("Lomb-Scargle against SciPy's lombscargle (which has no floating mean) in one run, seconds of processor time, best of 3; a night at one sample a second is 36,000:");
        output.WriteLine("| points | frequencies | here | ns a point and frequency | SciPy | SciPy/here |");
        output.WriteLine("|---|---|---|---|---|---|");
        foreach ((int n, int frequencies) in size == Size.Full ? [(4000, 2000), (36_000, 3000), (360_000, 3000)] : new[] { (500, 200) })
        {
            double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
            double[] y = new NoisyLine(20260426).Next(n, 0.5, Spoiled.No);
            var grid = new FrequencyGrid(1.0 / 3600, (1.0 / 60) / frequencies, frequencies);
            double here = Best(() => LombScargle.Generalised(t, y, grid).Value[0]);
            double? peer = n > 100_000 ? null : Scipy(n, frequencies);
            output.WriteLine($"| {n} | {frequencies} | {here:0.000} | {here * 1e9 / n / frequencies:0.00} | {(peer is { } p ? $"{p:0.00}" : "not run")} | {(peer is { } q ? $"{q / here:0.0}" : "-")} |");
        }

        output.WriteLine();
    }

    private static double? Scipy(int n, int frequencies)
    {
        string code = $"import time,numpy as np\nfrom scipy.signal import lombscargle\nt=np.arange({n},dtype=float);y=np.random.default_rng(1).normal(size={n});y-=y.mean()\nf=2*np.pi*(1/3600+np.arange({frequencies})/60/{frequencies})\nb=9e9\nfor i in range(2):\n  s=time.process_time();lombscargle(t,y,f);b=min(b,time.process_time()-s)\nprint('t',b)";
        try
        {
            using var child = new ChildProcess("/usr/bin/python3", "-c", code);
            string said = child.Finish(TimeSpan.FromMinutes(3));
            return double.Parse(said.Split('t')[^1].Trim(), CultureInfo.InvariantCulture);
        }
        catch (Exception exception) when (exception is System.ComponentModel.Win32Exception or InvalidOperationException or TimeoutException)
        {
            return null;
        }
    }

    private static double Best(Func<double> work)
    {
        double best = double.PositiveInfinity;
        for (int i = 0; i < 3; i++)
        {
            TimeSpan before = Environment.CpuUsage.TotalTime;
            GC.KeepAlive(work());
            best = Math.Min(best, (Environment.CpuUsage.TotalTime - before).TotalSeconds);
        }

        return best;
    }
}
