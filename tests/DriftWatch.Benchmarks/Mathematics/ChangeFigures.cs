using System.Diagnostics;
using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Change;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>Changes of level: how often the interval for the instant holds it, how often a change is claimed falsely, speed.</summary>
public static class ChangeFigures
{
    private static readonly double[] Correlations = [0, 0.3, 0.7, 0.9];

    /// <summary>The interval for the instant, for noise of one correlation.</summary>
    public static Action<TextWriter, Size> Coverage(double rho) => (output, size) =>
    {
        bool full = size == Size.Full;
        int trials = !full ? 4 : Trials(rho);
        output.WriteLine($"How often the interval of 95 % holds the instant of a step in the middle of the record, rho {rho}; {trials} records a row, of which those answered count; n_eff independent values on each side. 'answered': not 'not enough data'; the claim's power is of those.");
        output.WriteLine("| n_eff a side | rho | n | wild | step, sigma | answered, % | claimed, % | StepFinder, % | claimed ones, % | width | Bai 1997, % | its width |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (double independent in !full ? (double[])[45] : rho > 0.5 ? [30, 45] : [30, 45, 90])
        {
            foreach (Spoiled spoiled in Enum.GetValues<Spoiled>())
            {
                foreach (double step in independent is not 45 || spoiled == Spoiled.OneSide ? (double[])[1, 2] : rho > 0.5 ? [1, 2, 3] : [0.75, 1, 1.5, 2, 3])
                {
                    if (independent == 45 || spoiled != Spoiled.OneSide)
                    {
                        Row(output, NoisyLine.SizeFor(independent, rho), independent.ToString("0", CultureInfo.InvariantCulture), rho, spoiled, step, trials, 0);
                    }
                }
            }
        }

        if (rho > 0.5)
        {
            Row(output, (int)(60 * (1 + ((1 + rho) / (1 - rho))) / 2), "60, half of the variance white", rho, Spoiled.No, 1.5, trials, 1);
        }

        output.WriteLine();
    };

    private static int Trials(double rho) => rho > 0.8 ? 500 : rho > 0.5 ? 1000 : 2000;

    private static void Row(TextWriter output, int side, string label, double rho, Spoiled spoiled, double step, int trials, double white)
    {
        string wild = spoiled switch { Spoiled.No => "no", Spoiled.BothSides => "10 %", _ => "10 % upwards" };
        if (!RowFilter.Wants($"| {label} | {rho} | {2 * side} | {wild} | {step} |"))
        {
            return;
        }

        var noise = new NoisyLine(20261125 + side + (int)(100 * step) + (int)spoiled);
        double sigma = Math.Sqrt(1 + (white * white));
        int answered = 0, held = 0, claimed = 0, heldClaimed = 0, bai = 0, baiAnswered = 0;
        var widths = new List<double>();
        var baiWidths = new List<double>();
        for (int trial = 0; trial < trials; trial++)
        {
            double[] record = noise.Next(2 * side, rho, spoiled, 0, white);
            for (int i = side; i < record.Length; i++)
            {
                record[i] += step * sigma;
            }

            if (StepFinder.Find(record, new StepOptions { Seed = trial }) is not { IsKnown: true, Value: var found })
            {
                continue;
            }

            bool holds = found.From <= side && side <= found.To;
            answered++;
            held += holds ? 1 : 0;
            claimed += found.IsClaimed ? 1 : 0;
            heldClaimed += found.IsClaimed && holds ? 1 : 0;
            widths.Add(found.To - found.From + 1);

            // The classical one begins with the plain least-squares cut of the record as it is.
            if (BaiInterval.Of(record, LeastSquaresCut(record)) is { IsKnown: true, Value: var classical })
            {
                baiAnswered++;
                bai += classical.From <= side && side <= classical.To ? 1 : 0;
                baiWidths.Add(classical.To - classical.From + 1);
            }
        }

        string Percent(int part, int of) => of == 0 ? "-" : $"{100.0 * part / of:0.0}";
        output.WriteLine($"| {label} | {rho} | {2 * side} | {wild} | {step} | {Percent(answered, trials)} | {Percent(claimed, answered)} | {Percent(held, answered)} | {Percent(heldClaimed, claimed)} | {Median(widths)} | {Percent(bai, baiAnswered)} | {Median(baiWidths)} |");
        output.Flush();
    }

    private static int LeastSquaresCut(double[] record)
    {
        double total = record.Sum(), sum = 0, best = -1;
        int cut = 2;
        for (int k = 1; k < record.Length; k++)
        {
            sum += record[k - 1];
            double off = sum - (total * k / record.Length);
            double explained = off * off / ((double)k * (record.Length - k));
            if (k >= 2 && k <= record.Length - 2 && explained > best)
            {
                (best, cut) = (explained, k);
            }
        }

        return cut;
    }

    /// <summary>Claims where there is no change.</summary>
    public static void FalseClaims(TextWriter output, Size size)
    {
        bool full = size == Size.Full;
        int trials = full ? 2000 : 10;
        output.WriteLine($"How often a change is claimed where there is none, in % of {trials} records, a quarter as many of more than 2000 values (StepFinder also of those answered; the others say 'not enough data', because noise likes cuts near the ends best):");
        output.WriteLine("| n_eff in all | rho | n | wild | StepFinder at 5 % | of those answered | RegimeFinder | Pettitt p < 5 % | Pettitt corrected | known sigma, 2 ln n | known sigma, 3 ln n |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (double independent in full ? (double[])[60, 120, 300] : [60])
        {
            foreach (double rho in full ? Correlations : [0, 0.7])
            {
                foreach ((Spoiled spoiled, double white) in ((Spoiled, double)[])[(Spoiled.No, 0), (Spoiled.BothSides, 0), (Spoiled.No, 1)])
                {
                    if (white > 0 && rho < 0.5)
                    {
                        continue;
                    }

                    int n = white > 0 ? (int)(independent * (1 + ((1 + rho) / (1 - rho))) / 2) : NoisyLine.SizeFor(independent, rho);
                    string wild = white > 0 ? "half of the variance white" : spoiled == Spoiled.No ? "no" : "10 %";
                    if (!RowFilter.Wants($"| {independent:0} | {rho} | {n} | {wild} |"))
                    {
                        continue;
                    }

                    int rowTrials = n > 2000 ? trials / 4 : trials;
                    var noise = new NoisyLine(20261126 + n + (int)spoiled);
                    int claimed = 0, answered = 0, regimes = 0, pettitt = 0, corrected = 0, schwarz = 0, strict = 0;
                    for (int trial = 0; trial < rowTrials; trial++)
                    {
                        double[] record = noise.Next(n, rho, spoiled, 0, white);
                        Answer<StepFinding> found = StepFinder.Find(record, new StepOptions { Seed = trial });
                        answered += found.IsKnown ? 1 : 0;
                        claimed += found is { IsKnown: true, Value.IsClaimed: true } ? 1 : 0;
                        regimes += RegimeFinder.Find(record) is { IsKnown: true, Value.Changes.Count: > 0 } ? 1 : 0;
                        PettittResult rank = Pettitt.Test(record).Value;
                        pettitt += rank.IndependentPValue < 0.05 ? 1 : 0;
                        corrected += rank.PValue < 0.05 ? 1 : 0;
                        schwarz += Segmentation.OfLevel(record, Math.Sqrt(1 + white), SegmentPenalty.Schwarz(n), 5).Value.Changes.Count > 0 ? 1 : 0;
                        strict += Segmentation.OfLevel(record, Math.Sqrt(1 + white), SegmentPenalty.Strict(n), 5).Value.Changes.Count > 0 ? 1 : 0;
                    }

                    string Percent(int part, int of) => of == 0 ? "-" : $"{100.0 * part / of:0.0}";
                    output.WriteLine($"| {independent:0} | {rho} | {n} | {wild} | {Percent(claimed, rowTrials)} | {Percent(claimed, answered)} | {Percent(regimes, rowTrials)} | {Percent(pettitt, rowTrials)} | {Percent(corrected, rowTrials)} | {Percent(schwarz, rowTrials)} | {Percent(strict, rowTrials)} |");
                    output.Flush();
                }
            }
        }

        output.WriteLine();
    }

    /// <summary>Segmentation against an exact programme and strucchange.</summary>
    public static void Speed(TextWriter output, Size size)
    {
        bool full = size == Size.Full;
        output.WriteLine("Segmentation: a new level every 100 values, least segment 5, penalty 3 ln n; seconds, best of three and of nine below a tenth of a second. 'exact': optimal partitioning without pruning, written apart. strucchange: breakpoints(x ~ 1, h = 5) in R, its processor time, once.");
        output.WriteLine("| n | PELT | exact | ratio | same cost | strucchange | ratio |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (int n in full ? (int[])[300, 600, 1000, 3000, 10_000, 100_000] : [200])
        {
            double[] values = Staircase(n, 100);
            double penalty = SegmentPenalty.Strict(n);
            SegmentedRecord? found = null;
            double ours = Best(() => found = Segmentation.OfLevel(values, 1, penalty, 5).Value);
            double exactCost = 0;
            double exact = n <= 10_000 ? Best(() => exactCost = Exact(values, penalty, 5)) : double.NaN;
            double peer = n <= 600 ? Strucchange(values) : double.NaN;
            string same = n > 10_000 ? "-" : Math.Abs(exactCost - found!.Cost) < 1e-6 * exactCost ? "yes" : "NO";
            output.WriteLine($"| {n} | {ours:0.0000} | {Seconds(exact)} | {Ratio(exact, ours)} | {same} | {Seconds(peer)} | {Ratio(peer, ours)} |");
        }

        foreach (int n in full ? (int[])[10_000, 30_000] : [1000])
        {
            double[] flat = Staircase(n, n);
            output.WriteLine($"No change in {n} values, where nothing can be left out: {Best(() => Segmentation.OfLevel(flat, 1, SegmentPenalty.Strict(n), 5)):0.00} s.");
        }

        double[] night = Staircase(full ? 100_000 : 1000, 50_000);
        output.WriteLine($"StepFinder on {night.Length} values: {Best(() => StepFinder.Find(night)):0.00} s; Pettitt {Best(() => Pettitt.Test(night)):0.000} s.");
    }

    private static string Ratio(double peer, double ours) => double.IsNaN(peer) ? "-" : $"{peer / ours:0}";

    private static string Seconds(double value) => double.IsNaN(value) ? "-" : $"{value:0.0000}";

    private static double[] Staircase(int n, int length)
    {
        var noise = new NoisyLine(77);
        return [.. Enumerable.Range(0, n).Select(i => noise.Gauss() + (2 * (i / length % 2)))];
    }

    private static double Exact(double[] values, double penalty, int least)
    {
        double[] sums = new double[values.Length + 1], squares = new double[values.Length + 1], best = new double[values.Length + 1];
        for (int i = 0; i < values.Length; i++)
        {
            (sums[i + 1], squares[i + 1]) = (sums[i] + values[i], squares[i] + (values[i] * values[i]));
        }

        Array.Fill(best, double.PositiveInfinity);
        best[0] = -penalty;
        for (int end = least; end < best.Length; end++)
        {
            for (int start = 0; start <= end - least; start++)
            {
                double sum = sums[end] - sums[start];
                double cost = squares[end] - squares[start] - (sum * sum / (end - start));
                best[end] = Math.Min(best[end], best[start] + cost + penalty);
            }
        }

        return best[^1];
    }

    private static double Strucchange(double[] values)
    {
        using var folder = new TempFolder();
        string data = Path.Combine(folder.Path, "values.txt");
        File.WriteAllLines(data, values.Select(v => v.ToString("R", CultureInfo.InvariantCulture)));
        string script = $"suppressPackageStartupMessages(library(strucchange)); x <- scan('{data}', quiet = TRUE); t <- system.time(b <- breakpoints(x ~ 1, h = 5))[c('user.self', 'sys.self')]; cat('seconds', sum(t), '\\n')";
        using var child = new ChildProcess("Rscript", "--vanilla", "-e", script);
        string said = child.Finish(TimeSpan.FromMinutes(40));
        return double.Parse(said.Split(' ', StringSplitOptions.RemoveEmptyEntries)[1], CultureInfo.InvariantCulture);
    }

    private static double Best(Action action)
    {
        double best = double.MaxValue;
        for (int round = 0; round < (best < 0.1 ? 9 : 3); round++)
        {
            long start = Stopwatch.GetTimestamp();
            action();
            best = Math.Min(best, Stopwatch.GetElapsedTime(start).TotalSeconds);
        }

        return best;
    }

    private static string Median(List<double> values)
    {
        values.Sort();
        return values.Count == 0 ? "-" : $"{values[values.Count / 2]:0}";
    }
}
