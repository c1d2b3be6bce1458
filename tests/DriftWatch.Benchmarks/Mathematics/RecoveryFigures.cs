using DriftWatch.Analysis;
using DriftWatch.Analysis.Events;
using DriftWatch.Analysis.Sags;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>
/// Coverage of the 95 % intervals of time constants by simulation with fixed seeds: a recovery sampled evenly, time constant a
/// fifth of the record, level unknown, first-order noise of deviation 1, with and without a tenth of wild readings.
/// Beside it nonlinear least squares with the error of independent noise, τ ± 1.96 standard errors, at a known level.
/// </summary>
public static class RecoveryFigures
{
    private static readonly double[] Rhos = [0, 0.3, 0.7, 0.9];

    public static void Run(TextWriter output, Size size)
    {
        int rounds = size == Size.Full ? 1500 : 4;
        output.WriteLine($"Coverage of 95 % intervals of a time constant, Monte-Carlo error {100 * 1.96 * Math.Sqrt(0.05 * 0.95 / rounds):0.0} % with {rounds} records:");
        output.WriteLine("| n_eff | rho | n | amplitude | wild | interval covers % | answered % | records | error/tau (median) | believing every reading % | independent noise % |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|");
        foreach ((double effective, double amplitude) in size == Size.Full ? [(30, 8), (36, 8), (60, 6), (120, 6)] : new (double, double)[] { (40, 8) })
        {
            foreach (double rho in Rhos)
            {
                foreach (Spoiled spoiled in (Spoiled[])[Spoiled.No, Spoiled.BothSides])
                {
                    Row(output, rounds, effective, amplitude, rho, spoiled);
                }
            }
        }

        output.WriteLine();
        output.WriteLine($"Noise alone: how often a time constant is given at all (n_eff 60):");
        output.WriteLine("| rho | given % |");
        output.WriteLine("|---|---|");
        foreach (double rho in Rhos.Where(r => RowFilter.Wants($"| alone | {r} |")))
        {
            int n = NoisyLine.SizeFor(60, rho);
            var noise = new NoisyLine(20260402);
            double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
            int records = RoundsFor(n, rounds);
            int given = Enumerable.Range(0, records).Count(_ => TimeConstant.Fit(t, noise.Next(n, rho, Spoiled.No)).IsKnown);
            output.WriteLine($"| {rho} | {100.0 * given / records:0.0} |");
        }

        output.WriteLine();
    }

    private static void Row(TextWriter output, int rounds, double effective, double amplitude, double rho, Spoiled spoiled)
    {
        int n = NoisyLine.SizeFor(effective, rho);
        string wild = spoiled == Spoiled.No ? "" : "10 %";
        if (!RowFilter.Wants($"| {effective} | {rho} | {n} | {amplitude} | {wild} |"))
        {
            return;
        }

        rounds = RoundsFor(n, rounds);
        double tau = 0.2 * n;
        var noise = new NoisyLine(20260401);
        double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
        int answered = 0, covered = 0, plainAnswered = 0, plain = 0, classicAnswered = 0, classic = 0;
        var errors = new List<double>();
        for (int round = 0; round < rounds; round++)
        {
            double[] y = noise.Next(n, rho, spoiled);
            for (int i = 0; i < n; i++)
            {
                y[i] += 100 + (amplitude * Math.Exp(-t[i] / tau));
            }

            Answer<TimeConstantFit> fit = TimeConstant.Fit(t, y);
            if (fit.IsKnown)
            {
                answered++;
                covered += Covers(fit.Value, tau);
                errors.Add(fit.Value.StandardError / tau);
            }

            if (spoiled != Spoiled.No)
            {
                Answer<TimeConstantFit> believing = TimeConstant.Fit(t, y, screenOutliers: false);
                plainAnswered += believing.IsKnown ? 1 : 0;
                plain += believing.IsKnown ? Covers(believing.Value, tau) : 0;
            }

            if (FirstOrderRecovery.Fit(t, [.. y.Select(v => v - 100)]) is { } known)
            {
                classicAnswered++;
                classic += Math.Abs(known.TimeConstantSeconds - tau) <= 1.96 * known.StandardErrorSeconds ? 1 : 0;
            }
        }

        errors.Sort();
        double median = errors.Count == 0 ? 0 : errors[errors.Count / 2];
        output.WriteLine(
            $"| {effective} | {rho} | {n} | {amplitude} | {wild} | {Share(covered, answered)} | {Share(answered, rounds)} | {rounds} | {median:0.00} | {Share(plain, plainAnswered)} | {Share(classic, classicAnswered)} |");
        output.Flush();
    }

    /// <summary>Long records are dear: a third as many of them.</summary>
    internal static int RoundsFor(int n, int rounds) => n > 1000 ? Math.Max(1, rounds / 3) : rounds;

    internal static string Share(int part, int whole) => whole == 0 ? "-" : $"{100.0 * part / whole:0.0}";

    private static int Covers(TimeConstantFit fit, double tau) => fit.Lower <= tau && tau <= fit.Upper ? 1 : 0;
}
