using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>How often the terms of a timing record lie within their standard errors, what a record costs, and how often its faults are found, by simulation with fixed seeds.</summary>
public static class TimingFigures
{
    private const double PMil = 0.6;
    private const double HMil = -0.8;
    private const double SigmaNs = 10;

    private static readonly double[] Steps = [20, -30, 15, -5];
    private static readonly FrameAxis Axis = FrameAxis.Even(16);
    private static readonly TimingStandard Standard = TimingStandard.Mono525;

    public static void Run(TextWriter output, Size size)
    {
        int records = size == Size.Full ? 10_000 : 100;
        TimingDecomposer frame = TimingDecomposer.ForAxis(Axis).Value;
        TimingSamples lines = Lines(4);
        TimingDecomposer grid = TimingDecomposer.For(lines).Value;
        output.WriteLine($"{records:N0} records a row, p = {PMil} mil, h = {HMil} mil, steps {string.Join(", ", Steps)} ns, noise of {SigmaNs} ns and this correlation from sample to sample: how often a term lies within 1 and 3 of its standard errors, in %; then the same with errors that take the noise for white:");
        output.WriteLine("| axis | rho | mean | step 1 | step 2 | step 4 | skew, p | slope 3 | scallop, h | least within 3 | skew, if white | step 2, if white |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (double rho in new[] { 0, 0.3, 0.5, 0.7, 0.85 })
        {
            Row(output, "frame of 64", frame, [.. Axis.Heads], [.. Axis.AnglesDegrees], rho, records);
        }

        foreach (double rho in new[] { 0, 0.5, 0.85 })
        {
            Row(output, "4 revolutions of real lines", grid, lines.Heads, lines.AnglesDegrees, rho, records);
        }

        output.WriteLine();
        Cost(output, size, frame, grid, lines);
        Faults(output, size);
    }

    private static void Row(TextWriter output, string axis, TimingDecomposer fit, ReadOnlySpan<int> heads, ReadOnlySpan<double> angles, double rho, int records)
    {
        var random = new Random(20261128);
        var within = new int[7];
        var three = new int[7];
        var white = new int[2];
        double meanNs = HMil * Standard.NsPerMil * TimingStandard.MeanCosine;
        double freedom = Math.Sqrt(fit.Count / (double)(fit.Count - 9));
        TimingTerms unit = fit.ErrorsFor(1);
        for (int r = 0; r < records; r++)
        {
            TimingTerms terms = fit.Decompose(Noisy(random, heads, angles, rho));
            Uncertain[] found =
            [
                terms.Mean, terms.Step(1).Value, terms.Step(2).Value, terms.Step(4).Value, terms.PenetrationMil(Standard), terms.Slope(3).Value, terms.HeightMil(Standard),
            ];
            double[] truth = [meanNs, Steps[0], Steps[1], Steps[3], PMil, 0, HMil];
            for (int j = 0; j < found.Length; j++)
            {
                double off = Math.Abs(found[j].Value - truth[j]);
                within[j] += off <= found[j].StandardUncertainty ? 1 : 0;
                three[j] += off <= 3 * found[j].StandardUncertainty ? 1 : 0;
            }

            double plain = terms.ResidualRmsNs * freedom;
            white[0] += Math.Abs(found[4].Value - PMil) <= plain * unit.PenetrationMil(Standard).StandardUncertainty ? 1 : 0;
            white[1] += Math.Abs(found[2].Value - Steps[1]) <= plain * unit.Step(2).Value.StandardUncertainty ? 1 : 0;
        }

        string Share(int n) => $"{100.0 * n / records:0.0}";
        output.WriteLine($"| {axis} | {rho} | {string.Join(" | ", within.Select(Share))} | {Share(three.Min())} | {Share(white[0])} | {Share(white[1])} |");
    }

    private static void Cost(TextWriter output, Size size, TimingDecomposer frame, TimingDecomposer grid, TimingSamples lines)
    {
        int rounds = size == Size.Full ? 200_000 : 500;
        var random = new Random(1);
        double[] record = Noisy(random, [.. Axis.Heads], [.. Axis.AnglesDegrees], 0.5);
        double[] longer = Noisy(random, lines.Heads, lines.AnglesDegrees, 0.5);
        TimingSamples samples = TimingSamples.FromFrame(Standard, Axis, record);
        output.WriteLine("| what | microseconds of processor | bytes allocated |");
        output.WriteLine("|---|---|---|");
        Line("a frame of 64 on a precomputed axis", rounds, () => frame.Decompose(record).Skew.Value);
        Line($"4 revolutions of real lines ({lines.Count}) on a precomputed axis", rounds / 4, () => grid.Decompose(longer).Skew.Value);
        Line("precomputing the axis of 64", Math.Max(1, rounds / 1000), () => TimingDecomposer.ForAxis(Axis).Value.Condition);
        Line("TimingFit of a frame: faults looked for, axis made, alternative fitted", Math.Max(1, rounds / 2000), () => TimingFit.Decompose(samples).Value.Condition);
        output.WriteLine();

        void Line(string what, int times, Func<double> work)
        {
            double held = 0;
            for (int i = 0; i < Math.Min(times, 2000); i++)
            {
                held += work();
            }

            double best = double.PositiveInfinity;
            long bytes = 0;
            for (int round = 0; round < 3; round++)
            {
                long before = GC.GetAllocatedBytesForCurrentThread();
                TimeSpan start = Environment.CpuUsage.TotalTime;
                for (int i = 0; i < times; i++)
                {
                    held += work();
                }

                double spent = (Environment.CpuUsage.TotalTime - start).TotalMicroseconds / times;
                bytes = (GC.GetAllocatedBytesForCurrentThread() - before) / times;
                best = Math.Min(best, spent);
            }

            output.WriteLine(double.IsFinite(held) ? $"| {what} | {best:0.0} | {bytes:N0} |" : "never");
        }
    }

    private static void Faults(TextWriter output, Size size)
    {
        int records = size == Size.Full ? 2_000 : 20;
        output.WriteLine($"A mark one slot off (5.6 degrees), {records:N0} frames a row of h = 0.2 mil and noise of 5 ns: how often it is found, called in place, or not told, in %; then a mark that is sound:");
        output.WriteLine("| p mil | steps ns | rho | off: found | off: called in place | off: not told | sound: turned | sound: in place |");
        output.WriteLine("|---|---|---|---|---|---|---|---|");
        foreach ((double p, double step, double rho) in new[] { (0.3, 10.0, 0.0), (0.1, 10, 0), (0.03, 3, 0), (0, 0, 0), (0.3, 10, 0.7), (0.1, 10, 0.7) })
        {
            var random = new Random(20261129);
            int[] off = new int[3];
            int[] sound = new int[3];
            for (int r = 0; r < records; r++)
            {
                double[] e = Noisy(random, [.. Axis.Heads], [.. Axis.AnglesDegrees], rho, p, 0.2, [step, -step, step / 2, -step / 2], 5);
                TimingSamples samples = TimingSamples.FromFrame(Standard, Axis, e);
                sound[(int)AngleZero.Find(samples).Verdict]++;
                off[(int)AngleZero.Find(samples.Turned(r % 2 == 0 ? 5.625 : -5.625)).Verdict]++;
            }

            string Share(int n) => $"{100.0 * n / records:0.0}";
            output.WriteLine($"| {p} | ±{step} | {rho} | {Share(off[2])} | {Share(off[1])} | {Share(off[0])} | {Share(sound[2])} | {Share(sound[1])} |");
        }

        output.WriteLine();
        Bearing(output, size);
    }

    private static void Bearing(TextWriter output, Size size)
    {
        int records = size == Size.Full ? 200 : 3;
        TimingDecomposer frame = TimingDecomposer.ForAxis(Axis).Value;
        output.WriteLine($"{records} records of 120 revolutions, noise of 3 ns: root mean square of what does and does not repeat, and what the line near half speed is called, in %:");
        output.WriteLine("| what moves | repeats ns | does not ns | none | untold | wheel centre | time base |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach ((string what, double whirlMicroInches, double humNs, double frequency, double rho) in new[]
        {
            ("nothing", 0.0, 0.0, 0.48, 0.0), ("nothing, rho 0.7", 0, 0, 0.48, 0.7), ("20 µin whirl at 0.48", 20, 0, 0.48, 0), ("2 µin whirl at 0.48", 2, 0, 0.48, 0),
            ("1 µin whirl at 0.49", 1, 0, 0.49, 0), ("2 µin whirl at 0.5", 2, 0, 0.5, 0), ("1.3 ns of hum at 0.5", 0, 1.3, 0.5, 0), ("0.3 ns of hum at 0.5", 0, 0.3, 0.5, 0),
        })
        {
            var random = new Random(20261130);
            int[] shapes = new int[4];
            double repeats = 0, rest = 0;
            for (int r = 0; r < records; r++)
            {
                double phase = 2 * Math.PI * random.NextDouble();
                var turns = new List<double[]>();
                for (int t = 0; t < 120; t++)
                {
                    double[] e = Noisy(random, [.. Axis.Heads], [.. Axis.AnglesDegrees], rho, 0.3, -0.2, Steps, 3);
                    for (int i = 0; i < e.Length; i++)
                    {
                        double angle = Axis.AnglesDegrees[i] * Math.PI / 180;
                        double at = 2 * Math.PI * frequency * (t + ((Axis.Heads[i] - 1) / 4.0) + ((Axis.AnglesDegrees[i] + 45) / 360));
                        e[i] += (whirlMicroInches / 1000 * Standard.NsPerMil * Math.Sin(at - angle + phase)) + (humNs * Math.Sin(at + phase));
                    }

                    turns.Add(e);
                }

                BearingReading reading = BearingResidual.Split(Standard, frame, [.. Axis.Heads], [.. Axis.AnglesDegrees], turns).Value;
                shapes[(int)reading.HalfSpeed.Value.Shape]++;
                repeats += reading.SynchronousRmsNs / records;
                rest += reading.AsynchronousRmsNs / records;
            }

            output.WriteLine($"| {what} | {repeats:0.00} | {rest:0.00} | {string.Join(" | ", shapes.Select(s => $"{100.0 * s / records:0.0}"))} |");
        }
    }

    private static TimingSamples Lines(int revolutions)
    {
        int count = (int)(Standard.LinesPerRevolution * revolutions);
        HeadMark[] marks = [.. Enumerable.Range(0, (4 * revolutions) + 1).Select(j => new HeadMark(3.3 + (j * Standard.LinesPerPass), 1 + (j % 4)))];
        return LineGrid.Place(Standard, new double[count], marks).Value.Samples;
    }

    private static double[] Noisy(Random random, ReadOnlySpan<int> heads, ReadOnlySpan<double> angles, double rho) =>
        Noisy(random, heads, angles, rho, PMil, HMil, Steps, SigmaNs);

    private static double[] Noisy(
        Random random, ReadOnlySpan<int> heads, ReadOnlySpan<double> angles, double rho, double pMil, double hMil, double[] steps, double sigma)
    {
        var e = new double[heads.Length];
        double noise = sigma * Gauss(random);
        for (int i = 0; i < e.Length; i++)
        {
            double angle = angles[i] * Math.PI / 180;
            e[i] = (((hMil * Math.Cos(angle)) - (pMil * Math.Sin(angle))) * Standard.NsPerMil) + steps[heads[i] - 1] + noise;
            noise = (rho * noise) + (sigma * Math.Sqrt(1 - (rho * rho)) * Gauss(random));
        }

        return e;
    }

    private static double Gauss(Random random) => MathNet.Numerics.Distributions.Normal.Sample(random, 0, 1);
}
