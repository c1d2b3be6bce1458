using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Stability;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Benchmarks.Bed;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>
/// What the description of noise is good for: robust scales, first-order coefficient and effective sample size, quantile
/// sketch, Allan intervals and the verdict white or red, from fixed seeds; then their speed against peers in the same run.
/// </summary>
public static class NoiseFigures
{
    private static readonly double[] Correlations = [0, 0.3, 0.7, 0.9];

    public static void Run(TextWriter output, Size size)
    {
        int trials = size == Size.Full ? 4000 : 20;
        Scales(output, trials);
        Coefficients(output, trials);
        Means(output, trials);
        Sketches(output, size == Size.Full ? 50 : 5, size == Size.Full ? 1_000_000 : 20_000);
        Intervals(output, size == Size.Full ? 2000 : 20);
        Verdicts(output, trials);
        Streams(output, size == Size.Full ? 10_000_000 : 100_000);
        NoisePeers.Run(output, size);
    }

    private static void Scales(TextWriter output, int trials)
    {
        output.WriteLine($"Scales of normal values of deviation 1, {trials} records a row: mean, and efficiency (variance of the best estimate at that mean to its own); then with 10 % of values 10 up, mean.");
        output.WriteLine("| n | MAD | Sn | Qn | deviation | MAD eff. | Sn eff. | Qn eff. | MAD, wild | Sn, wild | Qn, wild | deviation, wild |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (int n in new[] { 10, 30, 100, 1000 })
        {
            var noise = new NoisyLine(20260201 + n);
            Moments[] clean = [new(), new(), new(), new()];
            Moments[] wild = [new(), new(), new(), new()];
            for (int trial = 0; trial < trials; trial++)
            {
                double[] x = noise.Next(n, 0, Spoiled.No);
                Take(clean, x);
                for (int i = 0; i < n / 10; i++)
                {
                    x[i] += 10;
                }

                Take(wild, x);
            }

            double best = Relative(clean[3]);
            output.WriteLine($"| {n} | {string.Join(" | ", clean.Select(m => m.Mean.Value.ToString("0.000")))} | {string.Join(" | ", clean.Take(3).Select(m => $"{100 * best / Relative(m):0} %"))} | {string.Join(" | ", wild.Select(m => m.Mean.Value.ToString("0.00")))} |");
        }

        output.WriteLine();

        static void Take(Moments[] into, double[] x)
        {
            into[0].Add(RobustScale.Mad(x).Value);
            into[1].Add(RobustScale.Sn(x).Value);
            into[2].Add(RobustScale.Qn(x).Value);
            into[3].Add(Moments.Of(x).StandardDeviation.Value);
        }

        static double Relative(Moments m) => m.Variance.Value / (m.Mean.Value * m.Mean.Value);
    }

    private static void Coefficients(TextWriter output, int trials)
    {
        output.WriteLine($"First-order coefficient, {trials} records a row: mean of the lag-1 autocorrelation, of the corrected coefficient and of the robust one; 'wild' with 10 % of readings 10 deviations off to both sides; 'line' after a straight line was taken out.");
        output.WriteLine("| n | rho | lag 1 | corrected | robust | lag 1, wild | robust, wild | corrected, line |");
        output.WriteLine("|---|---|---|---|---|---|---|---|");
        foreach (double independent in (double[])[30, 200])
        {
            foreach (double rho in Correlations)
            {
                int n = NoisyLine.SizeFor(independent, rho);
                var noise = new NoisyLine(20260202 + n);
                double[] sums = new double[6];
                for (int trial = 0; trial < trials; trial++)
                {
                    double[] x = noise.Next(n, rho, Spoiled.No);
                    FirstOrderEstimate plain = Autocorrelation.FirstOrder(x).Value;
                    sums[0] += plain.Uncorrected;
                    sums[1] += plain.Rho;
                    sums[2] += Autocorrelation.RobustFirstOrder(x).Value.Rho;
                    sums[5] += Autocorrelation.FirstOrder(LineOut(x), Removed.Line).Value.Rho;
                    double[] wild = noise.Next(n, rho, Spoiled.BothSides);
                    sums[3] += Autocorrelation.FirstOrder(wild).Value.Uncorrected;
                    sums[4] += Autocorrelation.RobustFirstOrder(wild).Value.Rho;
                }

                output.WriteLine($"| {n} | {rho} | {string.Join(" | ", sums.Select(s => (s / trials).ToString("0.000")))} |");
            }
        }

        output.WriteLine();
    }

    private static void Means(TextWriter output, int trials)
    {
        output.WriteLine($"Mean of a correlated series, {trials} records a row: how often mean ± t·s/√n_eff, s corrected for n_eff, holds the true mean at 95 %, in %, by what n_eff is taken from; SerialMean takes the smaller of coefficient and sequence and answers from an estimate of 20 on. Ratios: median of n_eff over the true one. 'half white': as much variance of white noise on top.");
        output.WriteLine("| n_eff | noise | n | n itself | lag 1 | corrected coefficient | initial monotone sequence | smaller of both | true n_eff | SerialMean | answered | ratio, coefficient | ratio, sequence |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (double independent in (double[])[10, 20, 30, 60, 100, 300])
        {
            foreach (double rho in Correlations)
            {
                Mean(output, trials, independent, NoisyLine.SizeFor(independent, rho), rho, 0);
            }

            foreach (double rho in (double[])[0.7, 0.9, 0.97])
            {
                Mean(output, trials, independent, (int)Math.Ceiling(independent * (((1 + rho) / (1 - rho)) + 1) / 2), rho, 1);
            }
        }

        output.WriteLine();
    }

    private static void Mean(TextWriter output, int trials, double independent, int n, double rho, double white)
    {
        var noise = new NoisyLine(20260203 + n);
        int[] held = new int[6];
        int answered = 0;
        int serial = 0;
        var corrected = new List<double>();
        var sequence = new List<double>();
        for (int trial = 0; trial < trials; trial++)
        {
            double[] x = noise.Next(n, rho, Spoiled.No, 0, white);
            var moments = Moments.Of(x);
            FirstOrderEstimate estimate = Autocorrelation.FirstOrder(x).Value;
            double geyer = Autocorrelation.EffectiveSampleSize(x).Value;
            corrected.Add(estimate.EffectiveSampleSize / independent);
            sequence.Add(geyer / independent);
            double[] sizes =
            [
                n, Autocorrelation.EffectiveSampleSize(n, estimate.Uncorrected), estimate.EffectiveSampleSize, geyer,
                Math.Min(estimate.EffectiveSampleSize, geyer), independent,
            ];
            for (int i = 0; i < sizes.Length; i++)
            {
                double size = Math.Max(sizes[i], 2);
                double variance = moments.Variance.Value * (n - 1) / n / (1 - (1 / size));
                double half = StudentT.InvCDF(0, 1, Math.Max(1, size - 1), 0.975) * Math.Sqrt(variance / size);
                held[i] += Math.Abs(moments.Mean.Value) <= half ? 1 : 0;
            }

            Answer<MeanEstimate> product = SerialMean.Estimate(x);
            answered += product.IsKnown ? 1 : 0;
            serial += product.IsKnown && product.Value.Low <= 0 && 0 <= product.Value.High ? 1 : 0;
        }

        corrected.Sort();
        sequence.Sort();
        output.WriteLine($"| {independent} | rho {rho}{(white > 0 ? ", half white" : "")} | {n} | {string.Join(" | ", held.Select(h => (100.0 * h / trials).ToString("0.0")))} | {(answered < trials / 50 ? "few" : (100.0 * serial / answered).ToString("0.0"))} | {100.0 * answered / trials:0} % | {corrected[trials / 2]:0.00} | {sequence[trials / 2]:0.00} |");
    }

    private static void Sketches(TextWriter output, int sketches, int count)
    {
        output.WriteLine($"Quantile sketch, {sketches} sketches of {count:N0} values a row, 99 quantiles each: rank error in % of the count, against the 99 % bound that the sketch states.");
        output.WriteLine("| size | order | values held | stated bound | beyond it | 99 % of errors below | largest |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (int size in new[] { 64, 256, 1024 })
        {
            foreach (string order in new[] { "random", "rising", "merged of 10" })
            {
                var errors = new List<double>();
                double bound = 0;
                int beyond = 0;
                int heldValues = 0;
                var random = new Random(20260204 + size);
                for (int k = 0; k < sketches; k++)
                {
                    // The ranks of a shuffled row of numbers are the numbers themselves.
                    double[] x = [.. Enumerable.Range(0, count).Select(i => (double)i)];
                    if (order != "rising")
                    {
                        random.Shuffle(x);
                    }

                    QuantileSketch sketch = new(size, (ulong)k + 1);
                    if (order == "merged of 10")
                    {
                        for (int part = 0; part < 10; part++)
                        {
                            var one = new QuantileSketch(size, ((ulong)k * 100) + (ulong)part + 7);
                            foreach (double value in x.AsSpan(part * count / 10, count / 10))
                            {
                                one.Add(value);
                            }

                            sketch.Merge(one);
                        }
                    }
                    else
                    {
                        foreach (double value in x)
                        {
                            sketch.Add(value);
                        }
                    }

                    bound = sketch.RankError(0.99);
                    heldValues = sketch.Held;
                    for (int q = 1; q < 100; q++)
                    {
                        double error = Math.Max(0, Math.Abs(sketch.Quantile(q / 100.0).Value + 1 - (q / 100.0 * count)) / count);
                        errors.Add(error);
                        beyond += error > bound ? 1 : 0;
                    }
                }

                errors.Sort();
                output.WriteLine($"| {size} | {order} | {heldValues} | {100 * bound:0.00} % | {100.0 * beyond / errors.Count:0.00} % | {100 * errors[errors.Count * 99 / 100]:0.00} % | {100 * errors[^1]:0.00} % |");
            }
        }

        output.WriteLine();
    }

    private static void Intervals(TextWriter output, int trials)
    {
        const int n = 1024;
        output.WriteLine($"Overlapping Allan deviation, {trials} records of {n} readings a kind: how often the 95 % interval holds the true deviation, in %, with the kind identified from the record, with the kind known, and with as many degrees of freedom as squares.");
        output.WriteLine("| noise | m | identified | known | squares counted | kind identified rightly |");
        output.WriteLine("|---|---|---|---|---|---|");
        foreach (NoiseKind kind in new[] { NoiseKind.WhiteFrequency, NoiseKind.FlickerFrequency, NoiseKind.RandomWalkFrequency })
        {
            var power = new PowerLawNoise(20260205 + (int)kind);
            var records = new List<(AllanPoint[] Points, double[] Phase)>();
            for (int trial = 0; trial < trials; trial++)
            {
                double[] y = power.Readings(n, kind);
                records.Add((AllanPoints.Octaves(y, 1).Value, AllanDeviation.Phase(y)));
            }

            foreach (int octave in new[] { 0, 2, 4, 6, 7 })
            {
                int m = 1 << octave;
                double truth = Math.Sqrt(records.Average(r => Math.Pow(r.Points[octave].Deviation, 2)));
                int identified = 0, known = 0, counted = 0, right = 0;
                foreach ((AllanPoint[] points, double[] phase) in records)
                {
                    AllanPoint point = points[octave];
                    identified += point.Low <= truth && truth <= point.High ? 1 : 0;
                    right += point.Noise == kind ? 1 : 0;
                    AllanPoint told = AllanPoints.Point(phase, m, 1, kind, 0.95);
                    known += told.Low <= truth && truth <= told.High ? 1 : 0;
                    (double low, double high) = AllanPoints.Interval(point.Deviation, n - (2 * m) + 1, 0.95);
                    counted += low <= truth && truth <= high ? 1 : 0;
                }

                output.WriteLine($"| {kind} | {m} | {Percent(identified)} | {Percent(known)} | {Percent(counted)} | {Percent(right)} |");
            }

            string Percent(int count) => (100.0 * count / records.Count).ToString("0.0");
        }

        output.WriteLine();
    }

    private static void Verdicts(TextWriter output, int trials)
    {
        output.WriteLine($"White or red, level 5 %, {trials} records a row, in %.");
        output.WriteLine("| n | noise | white | red | blue | averaging helps | rises at the end |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (int n in new[] { 64, 300, 1000, 10_000 })
        {
            Verdict("white", (noise, count) => noise.Next(count, 0, Spoiled.No));
            Verdict("rho 0.3", (noise, count) => noise.Next(count, 0.3, Spoiled.No));
            Verdict("rho 0.9", (noise, count) => noise.Next(count, 0.9, Spoiled.No));
            Verdict("white + walk of 0.05 a step", (noise, count) => Walked(noise, count, 0.05));
            Verdict("white + line of 2 deviations", (noise, count) => noise.Next(count, 0, Spoiled.No, 2.0 / count));

            void Verdict(string name, Func<NoisyLine, int, double[]> make)
            {
                int rounds = n > 5000 ? Math.Min(trials, 1000) : trials;
                var noise = new NoisyLine(20260206 + n);
                int white = 0, red = 0, blue = 0, helps = 0, rises = 0;
                for (int trial = 0; trial < rounds; trial++)
                {
                    NoiseVerdict verdict = WhiteOrRed.Classify(make(noise, n), 1).Value;
                    white += verdict.Colour == NoiseColour.White ? 1 : 0;
                    red += verdict.Colour == NoiseColour.Red ? 1 : 0;
                    blue += verdict.Colour == NoiseColour.Blue ? 1 : 0;
                    helps += verdict.AveragingHelps ? 1 : 0;
                    rises += verdict.RisesAtEnd ? 1 : 0;
                }

                output.WriteLine($"| {n} | {name} | {string.Join(" | ", new[] { white, red, blue, helps, rises }.Select(c => (100.0 * c / rounds).ToString("0.0")))} |");
            }
        }

        output.WriteLine();

        static double[] Walked(NoisyLine noise, int count, double step)
        {
            double[] x = noise.Next(count, 0, Spoiled.No);
            double walk = 0;
            for (int i = 0; i < count; i++)
            {
                walk += step * noise.Gauss();
                x[i] += walk;
            }

            return x;
        }
    }

    private static void Streams(TextWriter output, int count)
    {
        output.WriteLine($"Streams, {count:N0} normal readings, by processor time, best of 3 (target 5 M samples/s on one core):");
        output.WriteLine("| method | M samples/s |");
        output.WriteLine("|---|---|");
        double[] x = new NoisyLine(20260207).Next(count, 0.5, Spoiled.No);
        Stream("moments to the fourth, extremes", () =>
        {
            var moments = new Moments();
            foreach (double value in x)
            {
                moments.Add(value);
            }

            return moments.Mean.Value;
        });
        foreach (int window in new[] { 101, 1001 })
        {
            Stream($"windowed median of {window}, read every time", () =>
            {
                var median = new WindowedMedian(window);
                double sum = 0;
                foreach (double value in x)
                {
                    median.Add(value);
                    sum += median.Median.Value;
                }

                return sum;
            });
        }

        Stream("windowed extremes of 1001, read every time", () =>
        {
            var extremes = new WindowedExtremes(1001);
            double sum = 0;
            foreach (double value in x)
            {
                extremes.Add(value);
                sum += extremes.Greatest.Value - extremes.Least.Value;
            }

            return sum;
        });
        Stream("autocorrelation at 8 lags to 600", () =>
        {
            var lags = new StreamingAutocorrelation(1, 2, 5, 10, 30, 60, 300, 600);
            foreach (double value in x)
            {
                lags.Add(value);
            }

            return lags.At(0).Value;
        });
        Stream("quantile sketch of 256", () =>
        {
            var sketch = new QuantileSketch();
            foreach (double value in x)
            {
                sketch.Add(value);
            }

            return sketch.Quantile(0.5).Value;
        });
        Stream("Allan deviation over 15 octaves", () =>
        {
            var allan = new StreamingAllan(15);
            foreach (double value in x)
            {
                allan.Add(value);
            }

            return allan.At(3).Value;
        });
        output.WriteLine();

        void Stream(string name, Func<double> run)
        {
            double best = double.MaxValue;
            for (int round = 0; round < 3; round++)
            {
                TimeSpan before = Environment.CpuUsage.TotalTime;
                double result = run();
                best = Math.Min(best, (Environment.CpuUsage.TotalTime - before).TotalSeconds);
                GC.KeepAlive(result);
            }

            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {name} | {count / best / 1e6:0.0} |"));
        }
    }

    private static double[] LineOut(double[] x)
    {
        double middle = (x.Length - 1) / 2.0;
        double slope = 0;
        double squares = 0;
        for (int i = 0; i < x.Length; i++)
        {
            slope += (i - middle) * x[i];
            squares += (i - middle) * (i - middle);
        }

        return [.. x.Select((v, i) => v - (slope / squares * (i - middle)))];
    }
}
