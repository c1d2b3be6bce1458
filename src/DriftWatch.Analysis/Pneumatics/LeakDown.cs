using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>
/// The leak of a closed volume from its fall of pressure. What is in it is n = P·V/(R·T), so the readings are first turned into P·Ts/T, whose slope times −V/Ps is
/// the leak, whatever the temperature did: at 90 psig a kelvin is 0.36 psi. Its logarithm falls along a straight line, since a hole passes air in proportion to the pressure. The slope is <see cref="Drift"/>'s (autocorrelation, wild readings), its uncertainty
/// combined with those of volume, gauge and temperature after JCGM 100:2008 (GUM). Formula: derived from the ideal gas law; the uncorrected one, V·ΔP/(Δt·Ps), is that of
/// every trade text. Refused is what can't be a leak-down: too short, too little fall, a temperature that moves, pressure that rose on the way because the compressor cut in.
/// </summary>
public static class LeakDown
{
    /// <summary>Shorter tests are refused, minutes. Source: common practice, no source.</summary>
    public const double LeastMinutes = 2;

    /// <summary>A measured temperature that moves more is refused, K: a thermometer on the shell lags the air. Source: common practice, no source.</summary>
    public const double SteadyWithinK = 2;

    /// <summary>A fall of fewer steps of the gauge is refused, where the steps are wider than the noise. Source: common practice, no source.</summary>
    public const double LeastSteps = 3;

    /// <summary>Below this many steps a gauge can hardly tell. Source: common practice, no source.</summary>
    public const double FewSteps = 10;

    /// <summary>What the refusals count, in order: a caller finds the remedy by it.</summary>
    public const string TooShort = "min of record";

    /// <inheritdoc cref="TooShort"/>
    public const string TooFew = "readings";

    /// <inheritdoc cref="TooShort"/>
    public const string Rose = "min of undisturbed fall (then the pressure rose: the compressor cut in, or the air got warmer)";

    /// <inheritdoc cref="TooShort"/>
    public const string Unsteady = "min of record with the temperature steady within 2 K";

    /// <inheritdoc cref="TooShort"/>
    public const string TooLittle = "psi of fall";

    /// <inheritdoc cref="TooShort"/>
    public const string NotStraight = "independent points about one straight fall (the air was still cooling, something opened, or the noise is slow)";

    /// <summary>How much of a measured change of temperature the air itself may have differed by, rectangular. Source: common practice, no source.</summary>
    private const double ThermometerLagShare = 0.2;

    // A rise beyond eight deviations of a block's median is none of its noise. By simulation: noise alone rises so in 0.1 % of records of
    // 20 blocks and more and in 1.3 % of eight; under a fall hardly ever.
    private const double RiseSigmas = 8;
    private const double RiseShareOfFall = 0.05;

    /// <summary>A fall whose slope changes by less from beginning to end is called straight. Source: common practice, no source.</summary>
    private const double BendShare = 0.1;

    /// <summary>Standard errors that a bend must be beyond: it warns only, and correlated noise is in it. Source: common practice, no source.</summary>
    private const double BendErrors = 4;

    /// <summary>So many readings a step of the gauge make a staircase. Source: common practice, no source.</summary>
    private const int ReadingsPerStep = 5;

    /// <param name="seconds">Rising, any origin.</param>
    /// <param name="pressuresPsig">As many, gauge.</param>
    /// <param name="temperaturesC">As many, of the air or the receiver's shell; empty where not measured.</param>
    /// <param name="settings">Volume and what is known of the instruments.</param>
    /// <returns>
    /// A shortfall of <see cref="TooShort"/>, <see cref="TooFew"/>, <see cref="Unsteady"/>, <see cref="Rose"/>, <see cref="NotStraight"/> or
    /// <see cref="TooLittle"/>.
    /// </returns>
    /// <exception cref="ArgumentException">Lengths differ, times don't rise, a number is not finite or no pressure or temperature, a setting is outside its range.</exception>
    public static Answer<LeakDownResult> Measure(
        ReadOnlySpan<double> seconds, ReadOnlySpan<double> pressuresPsig, ReadOnlySpan<double> temperaturesC, LeakDownSettings settings)
    {
        Trend.Points.Check(seconds, pressuresPsig);
        Trend.Points.CheckRising(seconds);
        Check(temperaturesC, seconds.Length, settings);
        double minutes = seconds.Length == 0 ? 0 : (seconds[^1] - seconds[0]) / 60;
        if (!(minutes >= LeastMinutes))
        {
            return new Shortfall(TooShort, minutes, LeastMinutes);
        }

        if (seconds.Length < Drift.LeastEffectiveSize)
        {
            return new Shortfall(TooFew, seconds.Length, Drift.LeastEffectiveSize);
        }

        double meanPsig = Trend.Points.Mean(pressuresPsig);
        bool isMeasured = temperaturesC.Length > 0;
        double meanKelvin = StandardAir.Kelvin(isMeasured ? Trend.Points.Mean(temperaturesC) : settings.TemperatureC, nameof(settings));
        double[] steady = Steady(pressuresPsig, temperaturesC, meanKelvin, settings.AtmospherePsi);
        double resolution = settings.GaugeResolutionPsi > 0 ? settings.GaugeResolutionPsi : SmallestStep(pressuresPsig);
        if (isMeasured && Unsteadiness(seconds, temperaturesC, minutes) is { } unsteady)
        {
            return unsteady;
        }

        if (Rise(seconds, steady, resolution, minutes) is { } rose)
        {
            return rose;
        }

        Answer<DriftEstimate> drift = Drift.Estimate(seconds, steady, settings.Confidence);
        if (!drift.IsKnown && Staircase(seconds, steady, pressuresPsig) is { } stairs)
        {
            drift = stairs;
        }

        if (!drift.IsKnown)
        {
            return new Shortfall(NotStraight, drift.Missing!.Has, drift.Missing.Needs);
        }

        // Steps that the noise covers hide nothing.
        double coarse = resolution > 2 * drift.Value.NoiseDeviation ? resolution : 0;
        double fall = -drift.Value.Slope * minutes * 60;
        return Math.Abs(fall) < LeastSteps * coarse
            ? new Shortfall(TooLittle, Math.Max(0, fall), LeastSteps * coarse)
            : Result(seconds, steady, temperaturesC, drift.Value, meanPsig, meanKelvin, resolution, settings);
    }

    private static LeakDownResult Result(
        ReadOnlySpan<double> seconds,
        ReadOnlySpan<double> steady,
        ReadOnlySpan<double> temperaturesC,
        DriftEstimate drift,
        double meanPsig,
        double meanKelvin,
        double resolution,
        LeakDownSettings settings)
    {
        bool isMeasured = temperaturesC.Length > 0;
        double minutes = (seconds[^1] - seconds[0]) / 60;
        double psiPerKelvin = (meanPsig + settings.AtmospherePsi) / meanKelvin;
        double temperatureFall = isMeasured ? -60 * psiPerKelvin * LeastSquaresLine.Fit(seconds, temperaturesC).Value.Slope : 0;
        double fallPerMinute = -60 * drift.Slope;
        double slpmPerPsi = Receiver.LitresPerPsi(settings.VolumeLitres.Value, meanKelvin - StandardAir.ZeroCelsiusKelvin);
        double flow = slpmPerPsi * fallPerMinute;

        double root3 = Math.Sqrt(3);
        double halfWidthK = isMeasured
            ? settings.ThermometerDriftK + (ThermometerLagShare * Math.Abs(temperatureFall) * minutes / psiPerKelvin)
            : settings.UnseenTemperatureK;
        LeakBudgetLine[] budget =
        [
            new("slope of the pressure", slpmPerPsi * 60 * Math.Sqrt(drift.SlopeVariance), drift.DegreesOfFreedom),
            new("volume", Math.Abs(flow) * settings.VolumeLitres.StandardUncertainty / settings.VolumeLitres.Value, settings.VolumeLitres.Freedom),
            new("temperature of the air", slpmPerPsi * psiPerKelvin * halfWidthK / root3 / minutes, double.PositiveInfinity),
            new("gauge's scale", Math.Abs(flow) * settings.GaugeScaleShare, double.PositiveInfinity),

            // Two ends, each rounded: the worst a rounding can do to a slope, ± half a step, rectangular.
            new("gauge's step", slpmPerPsi * resolution / Math.Sqrt(6) / minutes, double.PositiveInfinity),
        ];
        Uncertain combined = Coverage.Combine(flow, [.. budget.Select(b => (b.StandardUncertaintySlpm, b.Freedom))]);
        double k = Coverage.Factor(combined.Freedom, settings.Confidence);
        double expanded = k * combined.StandardUncertainty;
        return new LeakDownResult(
            combined,
            k,
            expanded,
            flow > expanded,
            Math.Max(0, flow + expanded),
            fallPerMinute,
            temperatureFall,
            meanPsig,
            minutes,
            drift.Points,
            drift.LeftOut,
            [.. budget.OrderByDescending(b => b.StandardUncertaintySlpm)],
            Warnings(seconds, steady, isMeasured, fallPerMinute, minutes, resolution, drift.NoiseDeviation, flow, expanded));
    }

    private static List<string> Warnings(
        ReadOnlySpan<double> seconds,
        ReadOnlySpan<double> steady,
        bool isMeasured,
        double fallPerMinute,
        double minutes,
        double resolution,
        double noise,
        double flow,
        double expanded)
    {
        var warnings = new List<string>();
        if (resolution > 2 * noise && Math.Abs(fallPerMinute) * minutes < FewSteps * resolution)
        {
            warnings.Add("The fall is less than ten steps of the gauge: it can hardly tell. Test longer, or with a finer gauge.");
        }

        if (flow <= expanded)
        {
            warnings.Add("No leak is told from none: only the upper bound is an answer. Test longer.");
        }

        if (!isMeasured)
        {
            warnings.Add("Temperature was not measured: a kelvin is worth as much as the leak of some minutes. Wait after pumping until the receiver is at room temperature.");
        }

        if (Bend(seconds, steady) is { } bend)
        {
            warnings.Add(bend > 0
                ? "The fall gets slower by more than a leak does: the air was still cooling after it was compressed. Wait, and test again."
                : "The fall gets faster, which no leak does by itself: something opened, or the air began to cool.");
        }

        return warnings;
    }

    /// <summary>
    /// By which share the fall gets slower from beginning to end; null where it is straight. Curvature of the block medians about their line, by least squares.
    /// </summary>
    private static double? Bend(ReadOnlySpan<double> seconds, ReadOnlySpan<double> steady)
    {
        (double[] times, double[] medians) = Blocks(seconds, steady);
        double middle = (times[0] + times[^1]) / 2;
        double half = (times[^1] - times[0]) / 2;
        LineFit line = LeastSquaresLine.Fit(times, medians).Value;
        double slope = line.Slope * half;
        double meanSquare = times.Average(t => (t - middle) / half * ((t - middle) / half));
        double along = 0, across = 0, squares = 0;
        for (int i = 0; i < times.Length; i++)
        {
            double u = (times[i] - middle) / half;
            double bow = (u * u) - meanSquare;
            double residual = medians[i] - line.Intercept - (line.Slope * times[i]);
            along += bow * residual;
            across += bow * bow;
            squares += residual * residual;
        }

        double curvature = along / across;
        double error = Math.Sqrt(Math.Max(0, squares - (curvature * along)) / (times.Length - 3) / across);
        double share = -4 * curvature / slope;
        return Math.Abs(curvature) > BendErrors * error && Math.Abs(share) > BendShare ? share : null;
    }

    /// <summary>
    /// The readings as absolute pressure at one temperature, P, and of that P̄·ln(P/P̄): a hole's flow goes with the pressure behind it, so the
    /// logarithm falls along a straight line where the pressure itself bends, and its slope is that of the pressure at the mean P̄.
    /// </summary>
    private static double[] Steady(ReadOnlySpan<double> pressuresPsig, ReadOnlySpan<double> temperaturesC, double meanKelvin, double atmospherePsi)
    {
        double[] steady = new double[pressuresPsig.Length];
        for (int i = 0; i < steady.Length; i++)
        {
            double psia = StandardAir.Absolute(pressuresPsig[i], atmospherePsi, nameof(pressuresPsig));
            steady[i] = temperaturesC.Length > 0 ? psia * meanKelvin / StandardAir.Kelvin(temperaturesC[i], nameof(temperaturesC)) : psia;
        }

        double mean = Trend.Points.Mean(steady);
        for (int i = 0; i < steady.Length; i++)
        {
            steady[i] = mean * Math.Log(steady[i] / mean);
        }

        return steady;
    }

    /// <summary>The smallest difference between two readings: the gauge's step where it has one, next to nothing where it hasn't.</summary>
    private static double SmallestStep(ReadOnlySpan<double> values)
    {
        double[] sorted = values.ToArray();
        Array.Sort(sorted);
        double rounding = 1e-9 * Math.Max(1, Math.Abs(sorted[^1]));
        double least = double.PositiveInfinity;
        for (int i = 1; i < sorted.Length; i++)
        {
            double step = sorted[i] - sorted[i - 1];
            least = step > rounding ? Math.Min(least, step) : least;
        }

        return double.IsFinite(least) ? least : 0;
    }

    private static Shortfall? Unsteadiness(ReadOnlySpan<double> seconds, ReadOnlySpan<double> temperaturesC, double minutes)
    {
        (double[] times, double[] medians) = Blocks(seconds, temperaturesC);
        double longest = 0;
        for (int from = 0; from < medians.Length; from++)
        {
            double low = medians[from];
            double high = low;
            for (int to = from; to < medians.Length && Math.Max(high, medians[to]) - Math.Min(low, medians[to]) <= SteadyWithinK; to++)
            {
                (low, high) = (Math.Min(low, medians[to]), Math.Max(high, medians[to]));
                longest = Math.Max(longest, (times[to] - times[from]) / 60);
            }
        }

        bool isWhole = medians.Max() - medians.Min() <= SteadyWithinK;
        return isWhole ? null : new Shortfall(Unsteady, longest, minutes);
    }

    /// <summary>
    /// Readings of a coarse gauge stand on a step for many readings, which looks like slow noise and hides nothing but rounding. Then the
    /// median slope is taken as it is, and all its uncertainty is the gauge's step. Null where the readings aren't so.
    /// </summary>
    private static DriftEstimate? Staircase(ReadOnlySpan<double> seconds, ReadOnlySpan<double> steady, ReadOnlySpan<double> pressuresPsig)
    {
        int levels = pressuresPsig.ToArray().Distinct().Count();
        if (levels < 2 || levels * ReadingsPerStep > pressuresPsig.Length || TheilSen.Fit(seconds, steady) is not { IsKnown: true } line)
        {
            return null;
        }

        double middle = (seconds[0] + seconds[^1]) / 2;
        double slope = line.Value.Slope;
        return new DriftEstimate(
            slope, slope, slope, middle, line.Value.Intercept + (slope * middle), 0, 0, 0, levels, 0, 0, 0,
            (seconds[^1] - seconds[0]) / (seconds.Length - 1), levels, seconds.Length, 0);
    }

    /// <summary>
    /// A rise of block medians from their lowest so far that noise does not explain. The noise of a median comes from second differences, which
    /// a line does not move and one kink hardly.
    /// </summary>
    private static Shortfall? Rise(ReadOnlySpan<double> seconds, ReadOnlySpan<double> steady, double resolution, double minutes)
    {
        (double[] times, double[] medians) = Blocks(seconds, steady);
        double[] bends = new double[medians.Length - 2];
        for (int i = 0; i < bends.Length; i++)
        {
            bends[i] = medians[i + 2] - (2 * medians[i + 1]) + medians[i];
        }

        double noise = Math.Max(RobustScale.Qn(bends).Value / Math.Sqrt(6), resolution / Math.Sqrt(12));
        int lowest = 0;
        for (int i = 1; i < medians.Length; i++)
        {
            double threshold = Math.Max(RiseSigmas * noise, RiseShareOfFall * (medians[0] - medians[lowest]));
            if (medians[i] - medians[lowest] > threshold)
            {
                return new Shortfall(Rose, (times[lowest] - seconds[0]) / 60, minutes);
            }

            lowest = medians[i] < medians[lowest] ? i : lowest;
        }

        return null;
    }

    /// <summary>Medians of 8 to 40 blocks of equal count with the mean times of each.</summary>
    private static (double[] Times, double[] Medians) Blocks(ReadOnlySpan<double> seconds, ReadOnlySpan<double> values)
    {
        int blocks = Math.Clamp(values.Length / 4, 8, 40);
        double[] times = new double[blocks];
        double[] medians = new double[blocks];
        for (int k = 0; k < blocks; k++)
        {
            (int start, int end) = Drift.Block(k, blocks, values.Length);
            times[k] = Trend.Points.Mean(seconds[start..end]);
            medians[k] = RobustScale.Median(values[start..end]).Value;
        }

        return (times, medians);
    }

    private static void Check(ReadOnlySpan<double> temperaturesC, int count, LeakDownSettings settings)
    {
        if (temperaturesC.Length != 0 && temperaturesC.Length != count)
        {
            throw new ArgumentException($"As many temperatures as readings, or none: {count} readings, {temperaturesC.Length} temperatures.", nameof(temperaturesC));
        }

        Finite.Require(temperaturesC);
        Trend.Points.CheckConfidence(settings.Confidence, nameof(settings));
        StandardAir.RequirePositive(settings.VolumeLitres.Value, nameof(settings));
        StandardAir.RequirePositive(settings.AtmospherePsi, nameof(settings));
        foreach (double share in (ReadOnlySpan<double>)
            [settings.VolumeLitres.StandardUncertainty, settings.GaugeResolutionPsi, settings.GaugeScaleShare, settings.UnseenTemperatureK, settings.ThermometerDriftK])
        {
            if (!(share >= 0 && double.IsFinite(share)))
            {
                throw new ArgumentException($"Uncertainties and steps are 0 or above, not {share}.", nameof(settings));
            }
        }
    }
}
