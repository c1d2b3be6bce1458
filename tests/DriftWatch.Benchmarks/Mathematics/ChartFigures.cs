using System.Diagnostics;
using DriftWatch.Analysis.ControlCharts;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>Control charts: delay against Lorden's bound, what autocorrelation and estimated limits do to false alarms, speed.</summary>
public static class ChartFigures
{
    private static readonly double[] Correlations = [0, 0.3, 0.7, 0.9];

    public static void Run(TextWriter output, Size size)
    {
        Delays(output, size == Size.Full ? [1e3, 1e6] : [1e3]);
        Autocorrelated(output, size == Size.Full ? 4000 : 20);
        Estimated(output, size == Size.Full ? [25, 50, 100, 200, 500, 1000, 5000] : [50]);
        Needed(output, size);
        EstimatedWithCorrelation(output, size == Size.Full ? 1000 : 4);
        Speed(output, size == Size.Full ? 20_000_000 : 200_000);
    }

    private static void Delays(TextWriter output, double[] intervals)
    {
        output.WriteLine("Mean values from the shift to the signal, and in brackets its ratio to Lorden's bound 2·ln(ARL0)/shift² (first-order; for finite ARL0 less than 1 is possible). All charts two-sided with the same in-control run length. 'best': the one-sided CUSUM of that interval, which is minimax (Moustakides 1986).");
        output.WriteLine("| ARL0 | shift | bound | best | CUSUM for it, worst = zero state | its side in steady state | CUSUM for 1 sigma | EWMA for it, zero state | steady state | worst state | EWMA for 1 sigma, zero state | individuals |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (double interval in intervals)
        {
            CusumDesign cusumOne = ChartDesigner.Cusum(1, interval);
            EwmaDesign ewmaOne = ChartDesigner.Ewma(1, interval);
            IndividualsDesign individuals = ChartDesigner.Individuals(interval);
            foreach (double shift in (double[])[0.5, 1, 2])
            {
                double bound = 2 * Math.Log(interval) / (shift * shift);
                CusumDesign cusum = ChartDesigner.Cusum(shift, interval);
                EwmaDesign ewma = ChartDesigner.Ewma(shift, interval);
                double[] delays =
                [
                    ArlOfCusum.ZeroState(ChartDesigner.Cusum(shift, interval, ChartSide.High), shift),
                    ArlOfCusum.ZeroState(cusum, shift),
                    ArlOfCusum.SteadyState(new CusumDesign(cusum.Reference, cusum.Decision, ChartSide.High), shift),
                    ArlOfCusum.ZeroState(cusumOne, shift),
                    ArlOfEwma.ZeroState(ewma, shift),
                    ArlOfEwma.SteadyState(ewma, shift),
                    ArlOfEwma.WorstState(ewma, shift),
                    ArlOfEwma.ZeroState(ewmaOne, shift),
                    ArlOfIndividuals.Of(individuals, shift),
                ];
                output.WriteLine($"| {interval:0} | {shift} | {bound:0.0} | {string.Join(" | ", delays.Select(d => $"{d:0.00} ({d / bound:0.00})"))} |");
            }
        }

        output.WriteLine();
    }

    /// <summary>The level and standard deviation are known: what is left is the correlation alone.</summary>
    private static void Autocorrelated(TextWriter output, int runs)
    {
        const double interval = 370.4;
        CusumDesign cusum = ChartDesigner.Cusum(1, interval);
        EwmaDesign ewma = ChartDesigner.Ewma(1, interval);
        output.WriteLine($"First-order autoregressive values, charts designed for a false alarm every {interval} values and a shift of 1 sigma; level, sigma and rho known; {runs} runs. 'range': the individuals chart with sigma from the mean moving range, which correlation makes too small.");
        output.WriteLine("| rho | CUSUM of the values: ARL0 | EWMA | individuals | individuals, range | CUSUM of residuals: ARL0 | EWMA of residuals | delay for 1 sigma: CUSUM of residuals, worst | by the equation, one side | EWMA of residuals | CUSUM of the values with h raised until ARL0 is right: h | its delay |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (double rho in Correlations)
        {
            var noise = new NoisyRun(2101, rho);
            double range = Math.Sqrt(1 - rho); // mean |difference| of neighbours is 2σ√((1 − ρ)/π)
            CusumDesign residual = ResidualDesigner.Cusum(1, rho, interval);
            EwmaDesign residualEwma = ResidualDesigner.Ewma(1, rho, interval);
            double raised = Raised(noise, cusum, interval, runs / 2);
            double[] figures =
            [
                Mean(noise, runs, 0, () => Plain(new CusumChart(cusum, 0, 1).Add)),
                Mean(noise, runs, 0, () => Plain(new EwmaChart(ewma, 0, 1).Add)),
                Mean(noise, runs, 0, () => Plain(new IndividualsChart(IndividualsLimits.Known(0, 1, new IndividualsDesign(3))).Add)),
                Mean(noise, runs, 0, () => Plain(new IndividualsChart(IndividualsLimits.Known(0, range, new IndividualsDesign(3))).Add)),
                Mean(noise, runs, 0, () => Whitened(rho, new CusumChart(residual, 0, 1).Add)),
                Mean(noise, runs, 0, () => Whitened(rho, new EwmaChart(residualEwma, 0, 1).Add)),
                Mean(noise, runs, 1, () => Whitened(rho, new CusumChart(residual, 0, 1).Add)),
                ResidualDesigner.Delay(new CusumDesign(residual.Reference, residual.Decision, ChartSide.High), 1, rho),
                Mean(noise, runs, 1, () => Whitened(rho, new EwmaChart(residualEwma, 0, 1).Add)),
                raised,
                Mean(noise, runs, 1, () => Plain(new CusumChart(new CusumDesign(cusum.Reference, raised), 0, 1).Add)),
            ];
            output.WriteLine($"| {rho} | {string.Join(" | ", figures.Select(f => f < 30 ? $"{f:0.0}" : $"{f:0}"))} |");
        }

        output.WriteLine();
    }

    /// <summary>The other way out, by simulation alone: the same chart on the values with a higher h.</summary>
    private static double Raised(NoisyRun noise, CusumDesign cusum, double interval, int runs)
    {
        (double low, double high) = (cusum.Decision * 0.9, 200);
        for (int i = 0; i < 14; i++)
        {
            double h = (low + high) / 2;
            double length = Mean(noise, runs, 0, () => Plain(new CusumChart(new CusumDesign(cusum.Reference, h), 0, 1).Add));
            (low, high) = length < interval ? (h, high) : (low, h);
        }

        return (low + high) / 2;
    }

    private static void Estimated(TextWriter output, int[] points)
    {
        CusumDesign cusum = ChartDesigner.Cusum(1, 370.4);
        EwmaDesign ewma = ChartDesigner.Ewma(0.5, 370.4);
        IndividualsDesign individuals = ChartDesigner.Individuals(370.4);
        output.WriteLine("Real ARL0 of charts designed for 370.4 whose level and sigma come from n independent values (by the equations; 10th percentile, median, 90th over the luck of the n values):");
        output.WriteLine($"| n | CUSUM for 1 sigma | EWMA for 0.5 sigma (lambda {ewma.Weight:0.000}) | individuals |");
        output.WriteLine("|---|---|---|---|");
        foreach (int n in points)
        {
            string[] cells = [.. new[] { EstimatedLimits.Of(cusum, n), EstimatedLimits.Of(ewma, n), EstimatedLimits.Of(individuals, n) }
                .Select(e => $"{e.Tenth:0} / {e.Median:0} / {e.Ninetieth:0}")];
            output.WriteLine($"| {n} | {string.Join(" | ", cells)} |");
        }

        output.WriteLine();
    }

    private static void Needed(TextWriter output, Size size)
    {
        output.WriteLine("Independent values in control that are needed so that nine records in ten give a chart with at most twice the false alarms it was designed for:");
        output.WriteLine("| ARL0 | CUSUM for 0.5 sigma | for 1 sigma | for 2 sigma | EWMA for 0.5 sigma | for 1 sigma | individuals |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (double interval in size == Size.Full ? (double[])[370.4, 1e4, 1e6] : [370.4])
        {
            int[] needed = size == Size.Full
                ? [
                    EstimatedLimits.PointsNeeded(ChartDesigner.Cusum(0.5, interval)), EstimatedLimits.PointsNeeded(ChartDesigner.Cusum(1, interval)),
                    EstimatedLimits.PointsNeeded(ChartDesigner.Cusum(2, interval)), EstimatedLimits.PointsNeeded(ChartDesigner.Ewma(0.5, interval)),
                    EstimatedLimits.PointsNeeded(ChartDesigner.Ewma(1, interval)), EstimatedLimits.PointsNeeded(ChartDesigner.Individuals(interval)),
                ]
                : [EstimatedLimits.PointsNeeded(ChartDesigner.Individuals(interval))];
            output.WriteLine($"| {interval:0} | {string.Join(" | ", needed)} |");
        }

        output.WriteLine();
    }

    /// <summary>Level, sigma and ρ all come from the record: charts on residuals, run lengths simulated per record.</summary>
    private static void EstimatedWithCorrelation(TextWriter output, int records)
    {
        const double interval = 370.4;
        const int runsARecord = 40;
        output.WriteLine($"CUSUM of residuals designed for 1 sigma and ARL0 {interval} with level, sigma and rho all from n values; {records} records, {runsARecord} runs each. Real ARL0: 10th percentile of the records' means, median, mean (runs cut at 20 times the design):");
        output.WriteLine("| rho | n | n_eff | 10th / median / mean |");
        output.WriteLine("|---|---|---|---|");
        foreach (double rho in (double[])[0.3, 0.7, 0.9])
        {
            foreach (int n in (int[])[100, 400, 1600, 6400])
            {
                var noise = new NoisyRun(2102 + n, rho);
                double[] lengths = new double[records];
                for (int r = 0; r < records; r++)
                {
                    noise.Restart();
                    double[] values = [.. Enumerable.Range(0, n).Select(_ => noise.Next())];
                    double mean = values.Average();
                    double sigma = Math.Sqrt(values.Sum(v => (v - mean) * (v - mean)) / (n - 1));
                    double found = Analysis.Statistics.Autocorrelation.FirstOrder(values).Value.Rho;
                    CusumDesign design = records < 10 ? new CusumDesign(0.2, 8) : ResidualDesigner.Cusum(1, found, interval);
                    lengths[r] = Mean(noise, runsARecord, 0, () => Whitened(found, new CusumChart(design, 0, 1).Add, mean, sigma), 20 * (int)interval);
                }

                Array.Sort(lengths);
                output.WriteLine($"| {rho} | {n} | {n * (1 - rho) / (1 + rho):0} | {lengths[records / 10]:0} / {lengths[records / 2]:0} / {lengths.Average():0} |");
            }
        }

        output.WriteLine();
    }

    private static void Speed(TextWriter output, int count)
    {
        var noise = new NoisyRun(2103, 0.3);
        double[] values = [.. Enumerable.Range(0, 1 << 16).Select(_ => noise.Next())];
        var cusum = new CusumChart(new CusumDesign(0.5, 10), 0, 1);
        var ewma = new EwmaChart(new EwmaDesign(0.1, 4, limitsVary: true), 0, 1);
        var individuals = new IndividualsChart(IndividualsLimits.Known(0, 1, new IndividualsDesign(4, 5)));
        var whitener = new Ar1Whitener(0, 1, 0.3);
        output.WriteLine("| streaming | million values a second, one core |");
        output.WriteLine("|---|---|");
        Time("CUSUM, both sides", cusum.Add);
        Time("EWMA, limits that vary", ewma.Add);
        Time("individuals and moving range", individuals.Add);
        Time("whitening and CUSUM", v => cusum.Add(whitener.Add(v)));
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int i = 0; i < 100_000; i++)
        {
            _ = cusum.Add(values[i & 0xffff]) | ewma.Add(values[i & 0xffff]) | individuals.Add(whitener.Add(values[i & 0xffff]));
        }

        output.WriteLine($"Allocated in 100,000 values through all four: {GC.GetAllocatedBytesForCurrentThread() - before} bytes.");

        void Time(string name, Func<double, ChartSignal> add)
        {
            double best = double.MaxValue;
            int signals = 0;
            for (int round = 0; round < 4; round++)
            {
                long start = Stopwatch.GetTimestamp();
                for (int i = 0; i < count / 4; i++)
                {
                    signals += add(values[i & 0xffff]) == ChartSignal.None ? 0 : 1;
                }

                best = Math.Min(best, Stopwatch.GetElapsedTime(start).TotalSeconds);
            }

            output.WriteLine($"| {name} | {count / 4 / best / 1e6:0} |");
        }
    }

    private static Func<double, bool> Plain(Func<double, ChartSignal> add) => v => add(v) != ChartSignal.None;

    private static Func<double, bool> Whitened(double rho, Func<double, ChartSignal> add, double level = 0, double sigma = 1)
    {
        var whitener = new Ar1Whitener(level, sigma, rho);
        return v => add(whitener.Add(v)) != ChartSignal.None;
    }

    /// <summary>Mean run length; where the values are shifted, the shift comes after one value in order, with the chart at its start.</summary>
    private static double Mean(NoisyRun noise, int runs, double shift, Func<Func<double, bool>> chart, int most = 100_000)
    {
        double total = 0;
        for (int r = 0; r < runs; r++)
        {
            noise.Restart();
            Func<double, bool> signals = chart();
            if (shift != 0)
            {
                _ = signals(noise.Next()); // a value without signal: the residuals know the one before
            }

            int length = 1;
            while (!signals(noise.Next() + shift) && length < most)
            {
                length++;
            }

            total += length;
        }

        return total / runs;
    }

    private sealed class NoisyRun(int seed, double rho)
    {
        private readonly NoisyLine _normal = new(seed);
        private readonly double _fresh = Math.Sqrt(1 - (rho * rho));
        private double _value;
        private bool _begun;

        public void Restart() => _begun = false;

        public double Next()
        {
            _value = _begun ? (rho * _value) + (_fresh * _normal.Gauss()) : _normal.Gauss();
            _begun = true;
            return _value;
        }
    }
}
