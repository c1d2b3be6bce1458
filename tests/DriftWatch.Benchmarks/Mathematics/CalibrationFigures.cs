using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>How often the uncertainty of a corrected reading holds the truth, and how often drift or hysteresis is claimed where there is none; from fixed seeds.</summary>
public static class CalibrationFigures
{
    public static void Run(TextWriter output, Size size)
    {
        int trials = size == Size.Full ? 20_000 : 50;
        Predictions(output, trials);
        Weights(output, trials);
        Claims(output, trials);
    }

    private static void Predictions(TextWriter output, int trials)
    {
        output.WriteLine($"A further reading after a calibration, {trials} calibrations a row: how often the 95 % interval holds it, in %. 'direct': the observation at a known point; 'inverse': the point of a known observation; then the direct one with k = 2 in place of t, and with the covariances of coefficients about zero left out.");
        output.WriteLine("| points | degree | errors | direct | inverse | inverse answered | k = 2 | covariances left out |");
        output.WriteLine("|---|---|---|---|---|---|---|---|");
        foreach ((int points, int degree) in new[] { (3, 1), (5, 1), (11, 1), (30, 1), (6, 2), (11, 2), (11, 3) })
        {
            foreach (bool heavy in points == 11 ? (bool[])[false, true] : [false])
            {
                var noise = new NoisyLine(20260301 + points + degree);
                var random = new Random(20260301 + points + degree);
                double[] x = [.. Enumerable.Range(0, points).Select(i => 20 + (10.0 * i / (points - 1)))];
                int direct = 0, inverse = 0, answered = 0, two = 0, ignoring = 0;
                for (int trial = 0; trial < trials; trial++)
                {
                    double[] y = [.. x.Select(v => Truth(v, degree) + Error())];
                    CalibrationCurve curve = CurveFit.LeastSquares(x, y, degree).Value;
                    double at = 20 + (10 * random.NextDouble());
                    double observed = Truth(at, degree) + Error();
                    Uncertain predicted = curve.Observation(at);
                    double off = Math.Abs(observed - predicted.Value);
                    direct += off <= predicted.Expanded() ? 1 : 0;
                    two += off <= 2 * predicted.StandardUncertainty ? 1 : 0;
                    double squares = curve.ResidualDeviation * curve.ResidualDeviation;
                    IReadOnlyList<Uncertain> b = curve.Coefficients();
                    for (int k = 0; k <= degree; k++)
                    {
                        squares += Math.Pow(b[k].StandardUncertainty * Math.Pow(at, k), 2);
                    }

                    ignoring += off <= Coverage.Factor(curve.Freedom) * Math.Sqrt(squares) ? 1 : 0;
                    Answer<Uncertain> back = curve.InverseObservation(observed);
                    if (back.IsKnown)
                    {
                        answered++;
                        inverse += Math.Abs(at - back.Value.Value) <= back.Value.Expanded() ? 1 : 0;
                    }
                }

                output.WriteLine($"| {points} | {degree} | {(heavy ? "uniform" : "normal")} | {Percent(direct, trials)} | {Percent(inverse, answered)} | {Percent(answered, trials)} | {Percent(two, trials)} | {Percent(ignoring, trials)} |");

                double Error() => heavy ? 0.05 * Math.Sqrt(12) * (random.NextDouble() - 0.5) : 0.05 * noise.Gauss();
            }
        }

        output.WriteLine();

        static double Truth(double x, int degree)
        {
            double z = x - 20;
            return 1 + (0.5 * x) + (degree > 1 ? 0.01 * z * z : 0) + (degree > 2 ? 0.001 * z * z * z : 0);
        }
    }

    private static void Weights(TextWriter output, int trials)
    {
        output.WriteLine($"Slope of a line through 8 points with given uncertainties, {trials} calibrations a row: how often slope ± k·u holds the true one, in %.");
        output.WriteLine("| uncertain | weighted, in y only | both uncertain (York) | York, scaled to the scatter |");
        output.WriteLine("|---|---|---|---|");
        foreach ((double ux, double uy, double believed) in new[] { (0.0, 0.1, 1.0), (0.1, 0.1, 1.0), (0.3, 0.1, 1.0), (0.1, 0.1, 0.5) })
        {
            var noise = new NoisyLine(20260302);
            int weighted = 0, both = 0, scaled = 0;
            double[] u = [.. Enumerable.Repeat(believed * uy, 8)];
            double[] v = [.. Enumerable.Repeat(believed * Math.Max(ux, 1e-6), 8)];
            for (int trial = 0; trial < trials; trial++)
            {
                double[] x = [.. Enumerable.Range(0, 8).Select(i => i + (ux * noise.Gauss()))];
                double[] y = [.. Enumerable.Range(0, 8).Select(i => 3 + (2.0 * i) + (uy * noise.Gauss()))];
                weighted += Holds(CurveFit.Weighted(x, y, u).Value);
                CalibrationCurve york = CurveFit.BothUncertain(x, v, y, u).Value;
                both += Holds(york);
                scaled += Holds(york.ScaledToScatter());
            }

            output.WriteLine($"| x {ux}, y {uy}{(believed < 1 ? ", said to be half of that" : "")} | {Percent(weighted, trials)} | {Percent(both, trials)} | {Percent(scaled, trials)} |");
        }

        output.WriteLine();

        static int Holds(CalibrationCurve curve)
        {
            Uncertain slope = curve.Coefficients()[1];
            return Math.Abs(slope.Value - 2) <= slope.Expanded() ? 1 : 0;
        }
    }

    private static void Claims(TextWriter output, int trials)
    {
        output.WriteLine($"Claims at 5 % where there is nothing, and where there is, {trials} pairs a row, in %.");
        output.WriteLine("| claim | points | nothing there | as large as the scatter | twice the scatter |");
        output.WriteLine("|---|---|---|---|---|");
        foreach (int points in new[] { 5, 11 })
        {
            double[] x = [.. Enumerable.Range(0, points).Select(i => (double)i)];
            double[] down = [.. x.Reverse()];
            var drift = new int[3];
            var loop = new int[3];
            var noise = new NoisyLine(20260303 + points);
            for (int trial = 0; trial < trials; trial++)
            {
                for (int size = 0; size < 3; size++)
                {
                    CalibrationCurve older = CurveFit.LeastSquares(x, Made(x, 0)).Value;
                    CalibrationCurve newer = CurveFit.LeastSquares(x, Made(x, size)).Value;
                    drift[size] += CalibrationDrift.Between(older, newer, 1, points / 2.0).IsSignificant ? 1 : 0;
                    loop[size] += Hysteresis.Of(x, Made(x, 0), down, Made(down, size)).Value.IsSignificant ? 1 : 0;
                }
            }

            output.WriteLine($"| drift in mid-range | {points} | {string.Join(" | ", drift.Select(c => Percent(c, trials)))} |");
            output.WriteLine($"| hysteresis | {points} | {string.Join(" | ", loop.Select(c => Percent(c, trials)))} |");

            double[] Made(double[] at, double moved) => [.. at.Select(v => moved + (2 * v) + noise.Gauss())];
        }

        output.WriteLine();
    }

    private static string Percent(int count, int of) => of == 0 ? "" : (100.0 * count / of).ToString("0.0");
}
