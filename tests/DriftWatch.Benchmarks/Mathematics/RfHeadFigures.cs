using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Benchmarks.Bed;
using MathNet.Numerics;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>
/// Coverage of the guided aids for heads by simulation with fixed seeds: tracking peaks and settings, the dip of the equaliser sweep, wear,
/// matching. Noise is normal and independent from reading to reading, in dB.
/// </summary>
public static class RfHeadFigures
{
    private static readonly double[] Noises = [0.05, 0.1, 0.3];

    public static void Run(TextWriter output, Size size)
    {
        int rounds = size == Size.Full ? 2000 : 4;
        output.WriteLine($"Monte-Carlo error of a share of 95 % with {rounds} records: {100 * Math.Sqrt(0.05 * 0.95 / rounds):0.00} %");
        Peaks(output, rounds);
        Settings(output, rounds);
        Wear(output, rounds);
        Matching(output, rounds);
    }

    /// <summary>Of the equaliser sweep, whose splines take longer.</summary>
    public static void Equaliser(TextWriter output, Size size)
    {
        int rounds = size == Size.Full ? 500 : 1;
        output.WriteLine($"Monte-Carlo error of a share of 95 % with {rounds} records: {100 * Math.Sqrt(0.05 * 0.95 / rounds):0.00} %");
        Dips(output, rounds);
        NoDips(output, rounds);
    }

    private static double Level(double offset, double flat) => 20 * Math.Log10(1 - (Math.Max(0, Math.Abs(offset) - flat) / TrackingTriangle.TrackMil));

    private static void Peaks(TextWriter output, int rounds)
    {
        output.WriteLine();
        output.WriteLine("| sweep, mil | points | flat, mil | noise, dB | answered, % | interval covers, % | its width, mil | bias, mil | parabola in dB: bias, mil | its RMS error | ours |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|");
        (double From, double To, int Points)[] sweeps = [(-4, 4, 5), (-4, 4, 9), (-5, 5, 21), (-2, 6, 9), (-3, 7, 21)];
        foreach ((double from, double to, int points) in sweeps)
        {
            foreach (double flat in points >= 9 ? (double[])[0, 1] : [0])
            {
                foreach (double noise in Noises)
                {
                    Peak(output, rounds, from, to, points, flat, noise);
                }
            }
        }
    }

    private static void Peak(TextWriter output, int rounds, double from, double to, int points, double flat, double noise)
    {
        var line = new NoisyLine(20260611);
        var random = new Random(20260612);
        double[] x = [.. Enumerable.Range(0, points).Select(i => from + (i * (to - from) / (points - 1)))];
        int answered = 0, covered = 0;
        double bias = 0, squares = 0, width = 0, logBias = 0, logSquares = 0;
        for (int round = 0; round < rounds; round++)
        {
            double peak = (2 * random.NextDouble()) - 1;
            double[] y = [.. x.Select(at => Level(at - peak, flat) + (noise * line.Gauss()))];
            Answer<TrackingPeakFit> fit = TrackingPeak.Fit(x, y);
            double[] parabola = Fit.Polynomial(x, y, 2);
            double log = (-parabola[1] / (2 * parabola[2])) - peak;
            logBias += log;
            logSquares += log * log;
            if (fit.IsKnown)
            {
                answered++;
                covered += fit.Value.Lower <= peak && peak <= fit.Value.Upper ? 1 : 0;
                double error = fit.Value.Position - peak;
                bias += error;
                squares += error * error;
                width += fit.Value.Upper - fit.Value.Lower;
            }
        }

        double n = Math.Max(1, answered);
        output.WriteLine(
            $"| {from} to {to} | {points} | {flat} | {noise} | {Share(answered, rounds)} | {Share(covered, answered)} | {width / n:0.00} | {bias / n:0.000} | {logBias / rounds:0.000} | {Math.Sqrt(logSquares / rounds):0.000} | {Math.Sqrt(squares / n):0.000} |");
    }

    private static void Settings(TextWriter output, int rounds)
    {
        output.WriteLine();
        output.WriteLine("Four heads, 13 points over ±5 mil; setting: the peak of all, or the middle of the outermost where they differ");
        output.WriteLine();
        output.WriteLine("| peaks, mil | noise, dB | said to disagree, % | setting's interval covers, % | worst head loses, dB | at the mean of the peaks, dB |");
        output.WriteLine("|---|---|---|---|---|---|");
        foreach (double[] peaks in (double[][])[[0, 0, 0, 0], [-0.2, 0, 0, 0.2], [-1, -0.8, -0.7, 1.5]])
        {
            foreach (double noise in Noises)
            {
                var line = new NoisyLine(20260613);
                double[] x = [.. Enumerable.Range(0, 13).Select(i => -5 + (i * 10 / 12.0))];
                int disagree = 0, covered = 0;
                double best = (peaks.Min() + peaks.Max()) / 2;
                double lost = 0, meanLost = 0;
                for (int round = 0; round < rounds; round++)
                {
                    FourHeads[] levels = [.. x.Select(at => new FourHeads(
                        Level(at - peaks[0], 0) + (noise * line.Gauss()), Level(at - peaks[1], 0) + (noise * line.Gauss()),
                        Level(at - peaks[2], 0) + (noise * line.Gauss()), Level(at - peaks[3], 0) + (noise * line.Gauss())))];
                    TrackingSetting setting = TrackingSweep.Read(x, levels).Setting.Value;
                    disagree += setting.HeadsDisagree ? 1 : 0;
                    double truth = setting.HeadsDisagree ? best : peaks.Average();
                    covered += setting.Lower <= truth && truth <= setting.Upper ? 1 : 0;
                    lost += peaks.Max(p => -Level(setting.Setting - p, 0));
                    meanLost += peaks.Max(p => -Level(peaks.Average() - p, 0));
                }

                output.WriteLine($"| {string.Join(", ", peaks)} | {noise} | {Share(disagree, rounds)} | {Share(covered, rounds)} | {lost / rounds:0.00} | {meanLost / rounds:0.00} |");
            }
        }
    }

    /// <summary>Rises, dips and rises again in shapes that no polynomial is, over settings 0 to 10.</summary>
    private static readonly (string Name, Func<double, double> Level, double Dip)[] Shapes =
    [
        Shape("slope and bell, narrow", s => (0.8 * s) - (3 * Math.Exp(-Math.Pow((s - 5.5) / 1.2, 2)))),
        Shape("slope and bell, wide", s => (0.8 * s) - (5 * Math.Exp(-Math.Pow((s - 5.5) / 2, 2)))),
        Shape("saturating rise and bell", s => (6 * (1 - Math.Exp(-s / 2.5))) - (2.5 * Math.Exp(-Math.Pow((s - 6) / 1.5, 2)))),
        Shape("cubic", s => 0.08 * ((s - 2) * (s - 5) * (s - 8))),
        Shape("slope and sine", s => (0.3 * s) + (1.5 * Math.Sin(0.8 * s))),
    ];

    private static (string, Func<double, double>, double) Shape(string name, Func<double, double> level)
    {
        double[] grid = [.. Enumerable.Range(0, 60001).Select(i => 3 + (i * 6.0 / 60000))];
        double dip = grid.Where((at, i) => i > 0 && i < grid.Length - 1 && level(at) <= level(grid[i - 1]) && level(at) < level(grid[i + 1])).First();
        return (name, level, dip);
    }

    private static void Dips(TextWriter output, int rounds)
    {
        output.WriteLine();
        output.WriteLine("| level over setting 0 to 10 | points | noise, dB | a dip is found, % | interval covers, % | its width | bias |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach ((string name, Func<double, double> level, double dip) in Shapes)
        {
            foreach (int points in (int[])[11, 21, 41])
            {
                foreach (double noise in Noises)
                {
                    var line = new NoisyLine(20260614);
                    double[] x = [.. Enumerable.Range(0, points).Select(i => i * 10.0 / (points - 1))];
                    int found = 0, covered = 0;
                    double width = 0, bias = 0;
                    for (int round = 0; round < rounds; round++)
                    {
                        EqualiserReading reading = EqualiserSweep.Read(x, [.. x.Select(s => level(s) + (noise * line.Gauss()))]).Value;
                        if (reading.Dip is { } at)
                        {
                            found++;
                            covered += at.Lower <= dip && dip <= at.Upper ? 1 : 0;
                            width += at.Upper - at.Lower;
                            bias += at.Setting - dip;
                        }
                    }

                    output.WriteLine($"| {name} | {points} | {noise} | {Share(found, rounds)} | {Share(covered, found)} | {width / Math.Max(1, found):0.00} | {bias / Math.Max(1, found):0.000} |");
                }
            }
        }
    }

    private static void NoDips(TextWriter output, int rounds)
    {
        output.WriteLine();
        output.WriteLine("| level without a dip | points | a dip is claimed, % | most often said |");
        output.WriteLine("|---|---|---|---|");
        foreach ((string name, Func<double, double> level) in ((string, Func<double, double>)[])
                 [("noise", _ => 0), ("line", s => 0.3 * s), ("saturating rise", s => 6 * (1 - Math.Exp(-s / 2.5))), ("shoulder", s => (0.8 * s) + Math.Sin(0.8 * s)),
                  ("falls", s => -0.3 * s), ("hump", s => -0.1 * (s - 5) * (s - 5)), ("valley", s => 0.1 * (s - 5) * (s - 5))])
        {
            foreach (int points in (int[])[11, 21, 41])
            {
                var line = new NoisyLine(20260615);
                double[] x = [.. Enumerable.Range(0, points).Select(i => i * 10.0 / (points - 1))];
                SweepShape[] said = [.. Enumerable.Range(0, rounds).Select(_ => EqualiserSweep.Read(x, [.. x.Select(s => level(s) + (0.1 * line.Gauss()))]).Value.Shape)];
                output.WriteLine(
                    $"| {name} | {points} | {Share(said.Count(s => s is SweepShape.Dip or SweepShape.SeveralDips or SweepShape.DipNotPlaced), rounds)} | {said.GroupBy(s => s).MaxBy(g => g.Count())!.Key} |");
            }
        }
    }

    private static void Wear(TextWriter output, int rounds)
    {
        output.WriteLine();
        output.WriteLine("Line-ups a week apart, tapes that differ by 2 dB, 0.2 dB of scatter a head; head 3 wears");
        output.WriteLine();
        output.WriteLine("| line-ups | wear, dB a week | interval covers, % | wear of head 3 claimed, % | of another head, % |");
        output.WriteLine("|---|---|---|---|---|");
        DateTimeOffset start = new(2026, 1, 5, 8, 0, 0, TimeSpan.Zero);
        foreach (int count in (int[])[4, 6, 12, 26])
        {
            foreach (double wear in (double[])[0, 0.05, 0.2])
            {
                var line = new NoisyLine(20260616);
                DateTimeOffset[] dates = [.. Enumerable.Range(0, count).Select(i => start.AddDays(7 * i))];
                int covered = 0, claimed = 0, others = 0;
                for (int round = 0; round < rounds; round++)
                {
                    FourHeads[] levels = [.. Enumerable.Range(0, count).Select(i =>
                    {
                        double tape = 2 * line.Gauss();
                        return new FourHeads(
                            tape + (0.2 * line.Gauss()), tape + 0.4 + (0.2 * line.Gauss()), tape - 0.3 - (wear * i) + (0.2 * line.Gauss()), tape + (0.2 * line.Gauss()));
                    })];
                    HeadWearTrend three = HeadWear.Of(dates, levels, 3).Value;
                    covered += three.Lower <= -wear && -wear <= three.Upper ? 1 : 0;
                    claimed += three.IsClaimed ? 1 : 0;
                    others += ((int[])[1, 2, 4]).Any(h => HeadWear.Of(dates, levels, h).Value.IsClaimed) ? 1 : 0;
                }

                output.WriteLine($"| {count} | {wear} | {Share(covered, rounds)} | {Share(claimed, rounds)} | {Share(others, rounds)} |");
            }
        }
    }

    private static void Matching(TextWriter output, int rounds)
    {
        output.WriteLine();
        output.WriteLine("Bars of 100 and 500 mV, 4 mV of scatter, gain of the other head 2 % high, offset 3 mV");
        output.WriteLine();
        output.WriteLine("| readings a bar | gain covered, % | offset covered, % |");
        output.WriteLine("|---|---|---|");
        foreach (int readings in (int[])[3, 10, 30])
        {
            var line = new NoisyLine(20260617);
            double[] Read(double level) => [.. Enumerable.Range(0, readings).Select(_ => level + (4 * line.Gauss()))];
            int gain = 0, offset = 0;
            for (int round = 0; round < rounds; round++)
            {
                TwoBars first = TwoBars.From(Read(100), Read(500)).Value;
                TwoBars other = TwoBars.From(Read(1.02 * 103), Read(1.02 * 503)).Value;
                ChannelMismatch mismatch = ChannelMatching.Compare(first, other, 2).Value;
                gain += Math.Abs(mismatch.GainPercent.Value - 2) <= mismatch.GainPercent.Expanded() ? 1 : 0;
                offset += Math.Abs(mismatch.Offset.Value - 3) <= mismatch.Offset.Expanded() ? 1 : 0;
            }

            output.WriteLine($"| {readings} | {Share(gain, rounds)} | {Share(offset, rounds)} |");
        }
    }

    private static string Share(int part, int whole) => RecoveryFigures.Share(part, whole);
}
