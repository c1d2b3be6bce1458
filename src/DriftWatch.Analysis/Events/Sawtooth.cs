using DriftWatch.Analysis.Relations;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Events;

/// <summary>A wave that rises straight for one part of its period and falls straight for the rest, such as the pressure in the receiver of a compressor that cycles.</summary>
/// <param name="PeriodSeconds">In seconds.</param>
/// <param name="PeriodError">Its standard error in seconds; a period's claim rests on <see cref="PeriodFinder"/>'s interval.</param>
/// <param name="RiseShare">Share of the period in which it rises, 0 … 1: the duty, where rising is working.</param>
/// <param name="RiseShareError">Its standard error: ±1.96 of it hold the true one in 92 to 97 % of records (README).</param>
/// <param name="Low">At the turn upwards, in the values' unit.</param>
/// <param name="High">At the turn downwards.</param>
/// <param name="FirstLowTime">The first turn upwards at or after the first time, in seconds.</param>
/// <param name="Correlation">ρ of what it leaves, from one typical step to the next.</param>
public readonly record struct SawtoothFit(
    double PeriodSeconds, double PeriodError, double RiseShare, double RiseShareError, double Low, double High, double FirstLowTime, double Correlation);

/// <summary>
/// Fits period, duty and phase of a sawtooth near a period that is known roughly (<see cref="PeriodFinder"/>): for each duty and phase the
/// levels are linear, so that a scan of these two finds the neighbourhood and Gauss and Newton the rest, in correlated noise.
/// Errors allow for the corners, where nothing is linear in the duty, and for the correlation being an estimate.
/// </summary>
public static class Sawtooth
{
    /// <summary>Five parameters; three cycles of ten points. Source: common practice, no source.</summary>
    public const int LeastPoints = 30;

    private const int PhaseSteps = 40;
    private const int ShareSteps = 19;

    /// <summary>After these the errors no longer change to a hundredth; by trial.</summary>
    private const int SettlingRounds = 6;

    /// <summary>Across how many standard errors to each side a slope is taken: by simulation, 1 covers 91 % and this 93 to 95 % (README).</summary>
    private const double Across = 1.5;

    /// <summary>A duty surer than this has corners that no sample lies near enough to; without noise there is no width to take a slope across.</summary>
    private const double NoWidth = 1e-6;

    /// <summary>Of 95 % of a normal law to each side.</summary>
    private const double NormalReach = 1.959963984540054;

    /// <param name="times">In seconds, rising.</param>
    /// <param name="values">As many, in their unit.</param>
    /// <param name="period">In seconds; within about a quarter of a cycle over the whole record, as the finder gives it.</param>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, times don't rise, or the period is not above 0.</exception>
    public static Answer<SawtoothFit> Fit(ReadOnlySpan<double> times, ReadOnlySpan<double> values, double period)
    {
        Traces.Check(times, values);
        if (!(period > 0) || !double.IsFinite(period))
        {
            throw new ArgumentException("A period is above 0 s.", nameof(period));
        }

        if (times.Length < LeastPoints)
        {
            return new Shortfall("points", times.Length, LeastPoints);
        }

        if (LombScargle.Lacking(values) is { } missing)
        {
            return missing;
        }

        double length = times[^1] - times[0];
        if (length < PeriodFinder.LeastCycles * period)
        {
            return new Shortfall("s of record", length, PeriodFinder.LeastCycles * period);
        }

        int n = times.Length;
        double middle = times[0] + (length / 2);
        double[] t = new double[n];
        double[] y = new double[n];
        for (int i = 0; i < n; i++)
        {
            t[i] = times[i] - middle;
            y[i] = values[i] - values[0];
        }

        var noise = new CorrelatedNoise(t);
        var at = Scan(t, y, period, noise);
        double rho = 0;
        Step? last = null;
        for (int round = 0; round < 40; round++)
        {
            if (Linearise(t, y, at, noise, rho) is not { } step)
            {
                break;
            }

            if (round is 10 or 20)
            {
                rho = noise.Estimate(step.Columns, y) ?? rho;
            }

            // A step that makes it worse is halved: corners make the squares uneven.
            Shape next = at.Moved(step, 1);
            double share = 1;
            while (share > 0.01 && !(Squares(t, y, next, noise, rho) < Squares(t, y, at, noise, rho)))
            {
                share /= 2;
                next = at.Moved(step, share);
            }

            last = step;
            if (share <= 0.01 && round > 20)
            {
                break;
            }

            at = share > 0.01 ? next : at;
        }

        if (last is null || Errors(t, y, at, noise, rho) is not { } final)
        {
            return new Shortfall("determined parameters", 0, 1);
        }

        double effective = Autocorrelation.EffectiveSampleSize(n, rho);
        if (effective < PeriodFinder.LeastEffectivePoints)
        {
            return new Shortfall("independent points", effective, PeriodFinder.LeastEffectivePoints);
        }

        // The noise's variance and correlation are estimates too: ±1.96 errors should hold all the same.
        double widening = CorrelatedNoise.Reach(effective, rho, 5, 0.95) / NormalReach;
        double mean = final.Level + values[0];
        double half = Math.Abs(final.Amplitude) / 2;

        // A wave upside down rises where the fitted one falls, and turns upwards where that turns down.
        bool upright = final.Amplitude > 0;
        double low = upright ? at.Phase : at.Phase + at.Share;
        double first = ((low + (at.Frequency * (times[0] - middle) * -1)) % 1 + 1) % 1 / at.Frequency;
        return new SawtoothFit(
            1 / at.Frequency,
            widening * final.FrequencyError / (at.Frequency * at.Frequency),
            upright ? at.Share : 1 - at.Share,
            widening * final.ShareError,
            mean - half,
            mean + half,
            times[0] + first,
            rho);
    }

    private readonly record struct Shape(double Frequency, double Phase, double Share)
    {
        public Shape Moved(Step step, double by) => new(
            Frequency + (by * step.ToFrequency), Phase + (by * step.ToPhase), Math.Clamp(Share + (by * step.ToShare), 0.01, 0.99));

        /// <summary>−½ at the turn upwards, ½ at the turn downwards; with the slopes by phase and by share.</summary>
        public (double Value, double ByTurn, double ByShare) At(double t)
        {
            double turns = (Frequency * t) - Phase;
            double part = turns - Math.Floor(turns);
            return part < Share
                ? ((part / Share) - 0.5, 1 / Share, -part / (Share * Share))
                : (0.5 - ((part - Share) / (1 - Share)), -1 / (1 - Share), (1 - part) / ((1 - Share) * (1 - Share)));
        }
    }

    private readonly record struct Step(
        double Level, double Amplitude, double ToFrequency, double ToPhase, double ToShare, double FrequencyError, double PhaseError, double ShareError, double[][] Columns);

    private static double Slope(Shape shape, double error, double t, Func<Shape, double, Shape> moved) =>
        (moved(shape, Across * error).At(t).Value - moved(shape, -Across * error).At(t).Value) / (2 * Across * error);

    private static Shape Scan(double[] t, double[] y, double period, CorrelatedNoise noise)
    {
        var best = new Shape(1 / period, 0, 0.5);
        double least = double.PositiveInfinity;
        for (int share = 1; share <= ShareSteps; share++)
        {
            for (int phase = 0; phase < PhaseSteps; phase++)
            {
                var shape = new Shape(1 / period, (double)phase / PhaseSteps, share / (ShareSteps + 1.0));
                double squares = Squares(t, y, shape, noise, 0);
                if (squares < least)
                {
                    (best, least) = (shape, squares);
                }
            }
        }

        return best;
    }

    private static double Squares(double[] t, double[] y, Shape shape, CorrelatedNoise noise, double rho)
    {
        double[] ones = new double[t.Length];
        double[] wave = new double[t.Length];
        for (int i = 0; i < t.Length; i++)
        {
            ones[i] = 1;
            wave[i] = shape.At(t[i]).Value;
        }

        return noise.Solve(rho, [ones, wave], y)?.Squares ?? double.PositiveInfinity;
    }

    private static Step? Errors(double[] t, double[] y, Shape shape, CorrelatedNoise noise, double rho)
    {
        Step? step = Linearise(t, y, shape, noise, rho);
        for (int round = 0; round < SettlingRounds && step is { } found; round++)
        {
            step = Linearise(t, y, shape, noise, rho, found);
        }

        return step;
    }

    /// <summary>The linear problem at a shape, with slopes at the point itself, or else across what the given standard errors leave open.</summary>
    private static Step? Linearise(double[] t, double[] y, Shape shape, CorrelatedNoise noise, double rho, Step? across = null)
    {
        int n = t.Length;
        double[] ones = new double[n], wave = new double[n], byFrequency = new double[n], byPhase = new double[n], byShare = new double[n];
        for (int i = 0; i < n; i++)
        {
            (double value, double byTurn, double share) = shape.At(t[i]);
            (ones[i], wave[i], byFrequency[i], byPhase[i], byShare[i]) = (1, value, byTurn * t[i], -byTurn, share);
            if (across is { ShareError: > NoWidth } error)
            {
                byFrequency[i] = Slope(shape, error.FrequencyError, t[i], (s, f) => s with { Frequency = s.Frequency + f });
                byPhase[i] = Slope(shape, error.PhaseError, t[i], (s, p) => s with { Phase = s.Phase + p });
                (double low, double high) = (Math.Max(0.01, shape.Share - (Across * error.ShareError)), Math.Min(0.99, shape.Share + (Across * error.ShareError)));
                byShare[i] = ((shape with { Share = high }).At(t[i]).Value - (shape with { Share = low }).At(t[i]).Value) / (high - low);
            }
        }

        double[][] columns = [ones, wave, byFrequency, byPhase, byShare];
        if (noise.Solve(rho, [ones, wave], y) is not { } levels || noise.Solve(rho, columns, y) is not { } all)
        {
            return null;
        }

        double amplitude = levels.Coefficients[1];
        double deviation = Math.Sqrt(all.Squares / (n - 5));
        double[] c = all.Coefficients;
        return amplitude == 0 ? null : new Step(
            levels.Coefficients[0],
            amplitude,
            c[2] / amplitude,
            c[3] / amplitude,
            c[4] / amplitude,
            deviation * Math.Sqrt(all.UnscaledVariance(2)) / Math.Abs(amplitude),
            deviation * Math.Sqrt(all.UnscaledVariance(3)) / Math.Abs(amplitude),
            deviation * Math.Sqrt(all.UnscaledVariance(4)) / Math.Abs(amplitude),
            columns);
    }
}
