using DriftWatch.Analysis;
using DriftWatch.Analysis.Trend;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>
/// How often intervals of 95 % for a slope hold the true one, and how often a drift is claimed where there is none: the product's
/// method and the classical ones on the same records, from fixed seeds.
/// </summary>
public static class DriftFigures
{
    private static readonly double[] Correlations = [0, 0.3, 0.7, 0.9];

    /// <summary>Effective sizes about the least that is answered.</summary>
    public static void Run(TextWriter output, Size size)
    {
        int trials = size == Size.Full ? 4000 : 12;
        Header(output, trials, Math.Min(trials, 1000));
        foreach (double independent in size == Size.Full ? (double[])[10, 20, 30, 40, 60] : [30, 60])
        {
            Block(output, rho => NoisyLine.SizeFor(independent, rho), trials, 1000);
        }
    }

    /// <summary>Longer records.</summary>
    public static void Long(TextWriter output, Size size)
    {
        int trials = size == Size.Full ? 1000 : 4;
        Header(output, trials, Math.Min(trials, 200));
        Block(output, rho => NoisyLine.SizeFor(200, rho), trials, 200);
    }

    /// <summary>A night of readings; the classical methods that need an hour for so many are left out.</summary>
    public static void Night(TextWriter output, Size size)
    {
        int trials = size == Size.Full ? 1000 : 1;
        Header(output, trials, Math.Min(trials, 30));
        Block(output, _ => size == Size.Full ? 100_000 : 20_000, trials, 30);
    }

    /// <summary>Half of the variance is white noise on top (rounding, an amplifier), which hides how slow the rest is.</summary>
    public static void Mixed(TextWriter output, Size size)
    {
        int trials = size == Size.Full ? 2000 : 8;
        Header(output, trials, Math.Min(trials, 500));
        foreach (double independent in size == Size.Full ? (double[])[30, 60, 200] : [60])
        {
            foreach (double rho in (double[])[0.7, 0.9, 0.97])
            {
                Row(output, (int)(independent * (1 + ((1 + rho) / (1 - rho))) / 2), rho, Spoiled.No, trials, 500, 1);
            }
        }
    }

    private static void Block(TextWriter output, Func<double, int> length, int trials, int classicalTrials)
    {
        foreach (double rho in Correlations)
        {
            foreach (Spoiled spoiled in Enum.GetValues<Spoiled>())
            {
                Row(output, length(rho), rho, spoiled, trials, classicalTrials, 0);
            }
        }
    }

    private static void Header(TextWriter output, int trials, int classicalTrials)
    {
        output.WriteLine($"Slope: how often the interval of 95 % holds the true slope, in %; {trials} records a row, of which the classical methods get the first {classicalTrials}. Answered: share for which the drift is not 'not enough data'; the columns after it are of these.");
        output.WriteLine("'claim': share in which a drift is claimed at 5 % where there is none. 'width': median width of Drift's interval to that of the best there is, least squares that know rho and the noise, on clean records.");
        output.WriteLine("| n | rho | wild | n_eff | answered | Drift | claim | width | least squares | Newey-West | GLS REML | Sen | Mann-Kendall claim | Hamed-Rao claim |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|---|---|---|");
    }

    private static void Row(TextWriter output, int n, double rho, Spoiled spoiled, int trials, int classicalTrials, double white)
    {
        double independent = white > 0 ? 2 * n / (1 + ((1 + rho) / (1 - rho))) : n * (1 - rho) / (1 + rho);
        string wild = spoiled switch { Spoiled.No => "none", Spoiled.BothSides => "10 % both sides", _ => "10 % one side" };
        if (!RowFilter.Wants($"| {n} | {rho} | {wild} | {independent:0} |"))
        {
            return;
        }

        var noise = new NoisyLine(20261125 + n + (int)spoiled);
        double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
        const double slope = 0;
        bool ranks = n <= 5000;
        int answered = 0, held = 0, squares = 0, newey = 0, restricted = 0, sen = 0, kendall = 0, hamed = 0;
        var widths = new List<double>();
        for (int trial = 0; trial < trials; trial++)
        {
            double[] y = noise.Next(n, rho, spoiled, slope, white);
            Answer<DriftEstimate> drift = Drift.Estimate(t, y);
            if (drift.IsKnown)
            {
                answered++;
                held += Holds(drift.Value.Lower, drift.Value.Upper, slope);
                widths.Add(drift.Value.Upper - drift.Value.Lower);
            }

            if (trial >= classicalTrials)
            {
                continue;
            }

            LineFit line = LeastSquaresLine.Fit(t, y).Value;
            double student = Student(n - 2);
            squares += Holds(line.Slope, line.SlopeError * student);
            newey += Holds(line.Slope, LeastSquaresLine.NeweyWestErrors(t, y).Value.Slope * student);
            if (n < 20_000)
            {
                AutoregressiveLineFit gls = AutoregressiveLine.Fit(t, y).Value;
                restricted += Holds(gls.Slope, gls.SlopeError * student);
            }

            if (ranks)
            {
                TheilSenFit theil = TheilSen.Fit(t, y).Value;
                sen += Holds(theil.Lower, theil.Upper, slope);
                kendall += MannKendall.Test(y).Value.P < 0.05 ? 1 : 0;
                Answer<MannKendallResult> corrected = HamedRao.Test(y);
                hamed += corrected.IsKnown && corrected.Value.P < 0.05 ? 1 : 0;
            }
        }

        widths.Sort();
        string width = answered < Math.Max(1, trials / 20) || white > 0 ? "" : $"{widths[widths.Count / 2] / BestWidth(t, rho):0.00}";
        string own = answered < Math.Max(1, trials / 20) ? "few" : $"{100.0 * held / answered:0.0} | {100.0 * (answered - held) / answered:0.0}";
        output.WriteLine(
            $"| {n} | {rho} | {wild} | {independent:0} | {100.0 * answered / trials:0} % | {(own == "few" ? "too few | " : own)} | {width} | "
            + $"{Share(squares)} | {Share(newey)} | {(n < 20_000 ? Share(restricted) : "")} | {(ranks ? $"{Share(sen)} | {Share(kendall)} | {Share(hamed)}" : " | | ")} |");
        output.Flush();

        string Share(int count) => $"{100.0 * count / Math.Min(trials, classicalTrials):0.0}";
        static int Holds(double a, double b, double c = double.NaN) => double.IsNaN(c) ? (Math.Abs(a) <= b ? 1 : 0) : (a <= c && c <= b ? 1 : 0);
    }

    private static double Student(int freedom) => MathNet.Numerics.Distributions.StudentT.InvCDF(0, 1, freedom, 0.975);

    /// <summary>Width of the interval of generalised least squares that know ρ and the variance.</summary>
    private static double BestWidth(double[] t, double rho)
    {
        double mean = t.Average();
        double sum = (1 - (rho * rho)) * (t[0] - mean) * (t[0] - mean);
        for (int i = 1; i < t.Length; i++)
        {
            double u = t[i] - mean - (rho * (t[i - 1] - mean));
            sum += u * u;
        }

        return 2 * 1.959963984540054 * Math.Sqrt((1 - (rho * rho)) / sum);
    }
}
