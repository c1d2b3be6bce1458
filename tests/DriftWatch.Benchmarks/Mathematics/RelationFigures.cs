using DriftWatch.Analysis;
using DriftWatch.Analysis.Relations;
using DriftWatch.Analysis.Trend;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>False claims and coverage of lead and lag, and coverage of the slope on a known cause, by simulation with fixed seeds.</summary>
public static class RelationFigures
{
    private const int Points = 500;
    private const int Longest = 20;

    private static readonly double[] Rhos = [0, 0.3, 0.7, 0.9];

    public static void Run(TextWriter output, Size size)
    {
        int rounds = size == Size.Full ? 2000 : 4;
        FalseClaims(output, rounds);
        Coverage(output, rounds / 2);
    }

    /// <summary>The slope on a known cause.</summary>
    public static void Causes(TextWriter output, Size size) => Slopes(output, size == Size.Full ? 2000 : 4);

    private static void FalseClaims(TextWriter output, int rounds)
    {
        output.WriteLine($"False claims that one channel moved first, % of {rounds} records of {Points} ({Longest} lags either way); plain: greatest |r| of the raw channels beyond 1.96/√n, at a lag other than 0:");
        output.WriteLine("| truth | rho | first leads | second leads | related at 5 % | plain claims |");
        output.WriteLine("|---|---|---|---|---|---|");
        foreach (double rho in Rhos)
        {
            var noise = new NoisyLine(20260411);
            Tally(output, "unrelated", rho, rounds, () => (noise.Next(Points, rho, Spoiled.No), noise.Next(Points, rho, Spoiled.No)));
        }

        Tally(output, "unrelated, 10 % wild", 0.7, rounds, Wild(0.7));
        foreach (double rho in Rhos)
        {
            var noise = new NoisyLine(20260412);
            Tally(output, "one signal (rho), white noise of 0.5 in the second only", rho, rounds, () =>
            {
                double[] signal = noise.Next(Points, rho, Spoiled.No);
                return (signal, [.. signal.Select(s => s + (0.5 * noise.Gauss()))]);
            });
        }

        foreach (double rho in Rhos)
        {
            var noise = new NoisyLine(20260413);
            Tally(output, "one signal of 0.9, noise of deviation 1 and this rho in the second, white 0.3 in the first", rho, rounds, () =>
            {
                double[] signal = noise.Next(Points, 0.9, Spoiled.No);
                double[] slow = noise.Next(Points, rho, Spoiled.No);
                return ([.. signal.Select(s => s + (0.3 * noise.Gauss()))], [.. signal.Select((s, i) => s + slow[i])]);
            });
        }

        output.WriteLine();
    }

    private static Func<(double[] X, double[] Y)> Wild(double rho)
    {
        var noise = new NoisyLine(20260414);
        return () => (noise.Next(Points, rho, Spoiled.BothSides), noise.Next(Points, rho, Spoiled.BothSides));
    }

    private static void Tally(TextWriter output, string truth, double rho, int rounds, Func<(double[] X, double[] Y)> make)
    {
        int first = 0, second = 0, related = 0, plain = 0;
        for (int round = 0; round < rounds; round++)
        {
            (double[] x, double[] y) = make();
            LeadLagAnswer answer = Find(x, y).Value;
            first += answer.Verdict == LeadLagVerdict.FirstLeads ? 1 : 0;
            second += answer.Verdict == LeadLagVerdict.SecondLeads ? 1 : 0;
            related += answer.RelationP <= 0.05 ? 1 : 0;
            double[] r = [.. CrossCorrelation.UpTo(x, y, Longest).Value.Select(Math.Abs)];
            int peak = Array.IndexOf(r, r.Max());
            plain += peak != Longest && r[peak] > 1.96 / Math.Sqrt(Points) ? 1 : 0;
        }

        output.WriteLine($"| {truth} | {rho} | {100.0 * first / rounds:0.0} | {100.0 * second / rounds:0.0} | {100.0 * related / rounds:0.0} | {100.0 * plain / rounds:0.0} |");
    }

    private static void Coverage(TextWriter output, int rounds)
    {
        output.WriteLine($"A signal of this rho that the second channel sees later, {rounds} records of {Points}, noise 0.3 white in the first and of rho 0.5 in the second; lags in samples; coverage where a relation was found:");
        output.WriteLine("| rho | lag | noise | holes | claimed rightly % | claimed wrongly % | interval covers % | half width (mean) | error of the lag (RMS) |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|");
        foreach (double rho in Rhos)
        {
            foreach ((double lag, double loud, double holes) in new[]
            {
                (1.0, 0.5, 0.0), (5.0, 0.5, 0.0), (5.0, 0.5, 0.1), (2.5, 0.5, 0.0), (3.3, 0.5, 0.0), (1.0, 2.0, 0.0), (5.0, 2.0, 0.0), (1.0, 5.0, 0.0),
            })
            {
                Row(output, rho, lag, loud, holes, rounds);
            }
        }

        output.WriteLine();
    }

    private static void Row(TextWriter output, double rho, double lag, double loud, double holes, int rounds)
    {
        // Ten instants between two samples, so that lags may lie between samples.
        const int fine = 10;
        double fineRho = rho == 0 ? 0 : Math.Pow(rho, 1.0 / fine);
        int behind = (int)Math.Round(lag * fine);
        var noise = new NoisyLine(20260415);
        var random = new Random(20260416);
        int right = 0, wrong = 0, covered = 0, related = 0;
        double width = 0, squares = 0;
        for (int round = 0; round < rounds; round++)
        {
            // White signals have no course between samples: theirs is the mean over a step, so that a lag between samples has a meaning.
            double[] signal = noise.Next((Points * fine) + behind + fine, fineRho, Spoiled.No);
            double Seen(int at) => rho > 0 ? signal[at] : signal.AsSpan(at, fine).ToArray().Sum() / Math.Sqrt(fine);
            double[] slow = noise.Next(Points, 0.5, Spoiled.No);
            var tx = new List<double>();
            var x = new List<double>();
            var ty = new List<double>();
            var y = new List<double>();
            for (int i = 0; i < Points; i++)
            {
                double a = Seen((i * fine) + behind) + (0.3 * noise.Gauss());
                double b = Seen(i * fine) + (loud * slow[i]);
                if (random.NextDouble() >= holes)
                {
                    tx.Add(i);
                    x.Add(a);
                }

                if (random.NextDouble() >= holes)
                {
                    ty.Add(i);
                    y.Add(b);
                }
            }

            LeadLagAnswer answer = LeadLag.Find([.. tx], [.. x], [.. ty], [.. y], 1, Longest).Value;
            right += answer.Verdict == LeadLagVerdict.FirstLeads ? 1 : 0;
            wrong += answer.Verdict == LeadLagVerdict.SecondLeads ? 1 : 0;
            if (answer.RelationP > 0.05)
            {
                continue;
            }

            related++;
            covered += answer.Lower <= lag && lag <= answer.Upper ? 1 : 0;
            width += (answer.Upper - answer.Lower) / 2;
            squares += (answer.LagSeconds - lag) * (answer.LagSeconds - lag);
        }

        output.WriteLine(
            $"| {rho} | {lag} | {loud} | {100 * holes:0} % | {100.0 * right / rounds:0.0} | {100.0 * wrong / rounds:0.0} | {RecoveryFigures.Share(covered, related)} | {width / Math.Max(1, related):0.00} | {Math.Sqrt(squares / Math.Max(1, related)):0.00} |");
    }

    private static void Slopes(TextWriter output, int rounds)
    {
        output.WriteLine($"Coverage of 95 % intervals of the slope on a cause of rho 0.9; beside it least squares with independent noise and Sen's limits:");
        output.WriteLine("| n_eff | rho | n | wild | interval covers % | answered % | records | least squares % | Theil-Sen % |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|");
        foreach (double effective in (double[])[36, 60, 120])
        {
            foreach (double rho in Rhos)
            {
                foreach (Spoiled spoiled in (Spoiled[])[Spoiled.No, Spoiled.BothSides])
                {
                    Slope(output, effective, rho, spoiled, rounds);
                }
            }
        }

        output.WriteLine();
    }

    private static void Slope(TextWriter output, double effective, double rho, Spoiled spoiled, int rounds)
    {
        const double slope = 0.5;
        int n = NoisyLine.SizeFor(effective, rho);
        rounds = RecoveryFigures.RoundsFor(n, rounds);
        var causes = new NoisyLine(20260417);
        var noise = new NoisyLine(20260418);
        double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
        int answered = 0, covered = 0, squares = 0, sen = 0;
        for (int round = 0; round < rounds; round++)
        {
            double[] x = causes.Next(n, 0.9, Spoiled.No);
            double[] y = noise.Next(n, rho, spoiled);
            for (int i = 0; i < n; i++)
            {
                y[i] += slope * x[i];
            }

            Answer<KnownCauseFit> fit = KnownCause.Fit(t, x, y);
            answered += fit.IsKnown ? 1 : 0;
            covered += fit.IsKnown && fit.Value.Lower <= slope && slope <= fit.Value.Upper ? 1 : 0;
            LineFit line = LeastSquaresLine.Fit(x, y).Value;
            squares += Math.Abs(line.Slope - slope) <= 1.96 * line.SlopeError ? 1 : 0;
            TheilSenFit pairs = TheilSen.Fit(x, y).Value;
            sen += pairs.Lower <= slope && slope <= pairs.Upper ? 1 : 0;
        }

        output.WriteLine(
            $"| {effective} | {rho} | {n} | {(spoiled == Spoiled.No ? "" : "10 %")} | {RecoveryFigures.Share(covered, answered)} | {RecoveryFigures.Share(answered, rounds)} | {rounds} | {RecoveryFigures.Share(squares, rounds)} | {RecoveryFigures.Share(sen, rounds)} |");
    }

    private static Answer<LeadLagAnswer> Find(double[] x, double[] y)
    {
        double[] t = [.. Enumerable.Range(0, x.Length).Select(i => (double)i)];
        return LeadLag.Find(t, x, t, y, 1, Longest);
    }
}
