using DriftWatch.Analysis;
using DriftWatch.Analysis.Forecast;
using DriftWatch.Analysis.Trend;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>How often the forecast's interval holds the true time at which the level crosses a limit, from fixed seeds.</summary>
public static class ForecastFigures
{
    public static void Run(TextWriter output, Size size)
    {
        int trials = size == Size.Full ? 3000 : 12;
        output.WriteLine($"Time at which the level crosses a limit that it reaches half a record after the last reading; {trials} records a row.");
        output.WriteLine("'rise': the drift over the record, in standard deviations of a mean of the record. 'foreseen': share of the answered for which a crossing is foreseen. 'holds': share of these whose interval of 95 % holds the true time. 'whole': the same over all answered, with the earliest time where no latest can be told.");
        output.WriteLine("| n | rho | wild | n_eff | rise | answered | foreseen | holds | whole | median interval, in records |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|");
        foreach (double independent in size == Size.Full ? (double[])[30, 60, 200] : [60])
        {
            foreach (double rho in (double[])[0, 0.3, 0.7, 0.9])
            {
                foreach (Spoiled spoiled in Enum.GetValues<Spoiled>())
                {
                    foreach (double rise in (double[])[12, 30])
                    {
                        Row(output, independent, rho, spoiled, rise, trials);
                    }
                }
            }
        }
    }

    /// <summary>The same for the first reading at the limit or beyond.</summary>
    public static void Readings(TextWriter output, Size size)
    {
        int trials = size == Size.Full ? 1000 : 8;
        output.WriteLine($"First reading at the limit or beyond, clean noise; {trials} records a row. 'off': the limit above the level at the last reading, in deviations of the noise; the level rises 12 deviations of its mean a record.");
        output.WriteLine("| n | rho | n_eff | off | foreseen | holds | came earlier | came later |");
        output.WriteLine("|---|---|---|---|---|---|---|---|");
        foreach (double independent in size == Size.Full ? (double[])[60, 200] : [60])
        {
            foreach (double rho in (double[])[0, 0.3, 0.7, 0.9])
            {
                foreach (double off in (double[])[1.5, 4])
                {
                    ReadingRow(output, independent, rho, off, trials);
                }
            }
        }
    }

    private static void ReadingRow(TextWriter output, double independent, double rho, double off, int trials)
    {
        int n = NoisyLine.SizeFor(independent, rho);
        double slope = 12 / Math.Sqrt(independent) / n;
        double limit = (slope * (n - 1)) + off;
        double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
        var noise = new NoisyLine(4321 + n);
        int foreseen = 0, early = 0, late = 0;
        for (int trial = 0; trial < trials; trial++)
        {
            double[] y = noise.Next(15 * n, rho, Spoiled.No, slope);
            Answer<DriftEstimate> drift = Drift.Estimate(t, y.AsSpan(0, n));
            if (!drift.IsKnown || FirstReading.Of(drift.Value, limit, LimitSide.Above, n - 1, 1e9) is not { Outlook: LimitOutlook.Crosses } forecast)
            {
                continue;
            }

            int first = n;
            while (first < y.Length && y[first] < limit)
            {
                first++;
            }

            foreseen++;
            early += first < Math.Floor(forecast.Earliest) ? 1 : 0;
            late += first > Math.Ceiling(forecast.Latest) ? 1 : 0;
        }

        string Share(int count) => $"{100.0 * count / Math.Max(1, foreseen):0.0}";
        output.WriteLine($"| {n} | {rho} | {independent:0} | {off} | {100.0 * foreseen / trials:0} % | {Share(foreseen - early - late)} | {Share(early)} | {Share(late)} |");
        output.Flush();
    }

    private static void Row(TextWriter output, double independent, double rho, Spoiled spoiled, double rise, int trials)
    {
        int n = NoisyLine.SizeFor(independent, rho);
        double slope = rise / Math.Sqrt(independent) / n;
        double limit = slope * n * 1.5;
        double truth = n * 1.5;
        double[] t = [.. Enumerable.Range(0, n).Select(i => (double)i)];
        var noise = new NoisyLine(777 + n + (int)spoiled);
        int answered = 0, foreseen = 0, held = 0, whole = 0;
        var widths = new List<double>();
        for (int trial = 0; trial < trials; trial++)
        {
            Answer<LimitForecast> answer = TimeToLimit.Of(t, noise.Next(n, rho, spoiled, slope), limit, LimitSide.Above, 1e6 * n);
            if (!answer.IsKnown)
            {
                continue;
            }

            LimitForecast forecast = answer.Value;
            answered++;
            bool holds = forecast.Earliest <= truth && truth <= forecast.Latest && forecast.Outlook != LimitOutlook.AlreadyBeyond;
            whole += holds ? 1 : 0;
            if (forecast.Outlook == LimitOutlook.Crosses)
            {
                foreseen++;
                held += holds ? 1 : 0;
                widths.Add((forecast.Latest - forecast.Earliest) / n);
            }
        }

        widths.Sort();
        string wild = spoiled switch { Spoiled.No => "none", Spoiled.BothSides => "10 % both sides", _ => "10 % one side" };
        output.WriteLine(answered < Math.Max(1, trials / 20) || widths.Count == 0
            ? $"| {n} | {rho} | {wild} | {independent:0} | {rise:0} | {100.0 * answered / trials:0} % | too few | | | |"
            : $"| {n} | {rho} | {wild} | {independent:0} | {rise:0} | {100.0 * answered / trials:0} % | {100.0 * foreseen / answered:0} % | {100.0 * held / foreseen:0.0} | {100.0 * whole / answered:0.0} | {widths[widths.Count / 2]:0.00} |");
        output.Flush();
    }
}
