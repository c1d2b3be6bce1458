using MathNet.Numerics.RootFinding;

namespace DriftWatch.Analysis.ControlCharts;

/// <summary>
/// Designs charts by average run length: given the mean number of values between false alarms, it solves the integral
/// equations for h, k, L or λ. <see cref="FalseAlarmInterval.Samples"/> turns hours into values. The answers hold for
/// independent normal values whose level and scale are known; for neighbours that depend on each other see
/// <see cref="ResidualDesigner"/>.
/// </summary>
public static class ChartDesigner
{
    /// <summary>Shortest and longest mean interval between false alarms that is solved for, in values.</summary>
    public const double ShortestInterval = 2;

    /// <inheritdoc cref="ShortestInterval"/>
    public const double LongestInterval = 1e9;

    private const double Accuracy = 1e-11;
    private const int MostRounds = 200;

    /// <summary>
    /// The CUSUM for a shift: k is half of it, which no other chart of one side beats in the worst case (Moustakides, Annals of
    /// Statistics 14, 1986), and h gives the false-alarm interval.
    /// </summary>
    /// <param name="shift">Shift to find fast, in standard deviations; above 0.</param>
    /// <param name="interval">Wanted mean number of values between false alarms, in both directions together.</param>
    /// <param name="side">Which way it watches.</param>
    /// <param name="headStartShare">Head start as a share of h: 0 for none, 0.5 as Lucas and Crosier have it; below 1.</param>
    /// <exception cref="ArgumentException">A number is outside its range.</exception>
    public static CusumDesign Cusum(double shift, double interval, ChartSide side = ChartSide.Both, double headStartShare = 0)
    {
        Require.Positive(shift, nameof(shift));
        double reference = shift / 2;
        double decision = SolveDecision(reference, interval, side, headStartShare);
        return new CusumDesign(reference, decision, side, headStartShare * decision);
    }

    /// <summary>h for a k and a mean number of values between false alarms.</summary>
    public static double SolveDecision(double reference, double interval, ChartSide side = ChartSide.Both, double headStartShare = 0)
    {
        CheckInterval(interval);
        if (!(headStartShare >= 0) || !(headStartShare < 1))
        {
            throw new ArgumentException("A head start is 0 or more and below the whole of h.", nameof(headStartShare));
        }

        double Length(double decision) => ArlOfCusum.ZeroState(new CusumDesign(reference, decision, side, headStartShare * decision), 0);
        return Rising(Length, interval, 1e-6, 4, nameof(interval));
    }

    /// <summary>k for an h and a mean number of values between false alarms.</summary>
    public static double SolveReference(double decision, double interval, ChartSide side = ChartSide.Both)
    {
        CheckInterval(interval);
        Require.Positive(decision, nameof(decision));
        return Rising(reference => ArlOfCusum.ZeroState(new CusumDesign(reference, decision, side), 0), interval, 0, 1, nameof(decision));
    }

    /// <summary>L for a λ and a mean number of values between false alarms.</summary>
    public static double SolveLimit(double weight, double interval, bool limitsVary = false)
    {
        CheckInterval(interval);
        return Rising(limit => ArlOfEwma.ZeroState(new EwmaDesign(weight, limit, limitsVary), 0), interval, 0.05, 3, nameof(interval));
    }

    /// <summary>λ for an L and a mean number of values between false alarms with fixed limits; λ from 0.005 to 1.</summary>
    /// <exception cref="ArgumentException">No λ in that range gives this interval.</exception>
    public static double SolveWeight(double limit, double interval)
    {
        CheckInterval(interval);
        Require.Positive(limit, nameof(limit));
        double Off(double logWeight) => Math.Log(ArlOfEwma.ZeroState(new EwmaDesign(Math.Min(1, Math.Exp(logWeight)), limit), 0) / interval);
        (double small, double large) = (Math.Log(LeastWeight), 0);
        if (Off(small) < 0 || Off(large) > 0)
        {
            throw new ArgumentException($"With L = {limit} no λ from {LeastWeight} to 1 gives a false alarm every {interval} values.", nameof(interval));
        }

        return Math.Exp(Brent.FindRoot(Off, small, large, Accuracy, MostRounds));
    }

    /// <summary>
    /// The EWMA for a shift: the λ, and the L that gives the false-alarm interval with it, for which a fresh chart finds the
    /// shift soonest (Crowder, Journal of Quality Technology 21, 1989; Lucas and Saccucci, Technometrics 32, 1990).
    /// </summary>
    public static EwmaDesign Ewma(double shift, double interval, bool limitsVary = false)
    {
        CheckInterval(interval);
        Require.Positive(shift, nameof(shift));
        double Delay(double logWeight)
        {
            double weight = Math.Min(1, Math.Exp(logWeight));
            return ArlOfEwma.ZeroState(new EwmaDesign(weight, SolveLimit(weight, interval)), shift);
        }

        // Golden section on ln λ; the delay is flat about its best, so a hundredth of λ is close enough.
        double ratio = (Math.Sqrt(5) - 1) / 2;
        (double low, double high) = (Math.Log(LeastWeight), 0.0);
        (double left, double right) = (high - (ratio * (high - low)), low + (ratio * (high - low)));
        (double atLeft, double atRight) = (Delay(left), Delay(right));
        while (high - low > 0.01)
        {
            if (atLeft < atRight)
            {
                (high, right, atRight) = (right, left, atLeft);
                left = high - (ratio * (high - low));
                atLeft = Delay(left);
            }
            else
            {
                (low, left, atLeft) = (left, right, atRight);
                right = low + (ratio * (high - low));
                atRight = Delay(right);
            }
        }

        double best = Math.Min(1, Math.Exp((low + high) / 2));
        return new EwmaDesign(best, SolveLimit(best, interval, limitsVary), limitsVary);
    }

    /// <summary>
    /// The individuals chart for a false-alarm interval. With the moving range both charts get the same share: each alone would
    /// alarm as rarely as the other, and both together as often as wanted.
    /// </summary>
    public static IndividualsDesign Individuals(double interval, bool watchesRange = false)
    {
        CheckInterval(interval);

        // Two-sided tail of a value is 1/interval; a step of two neighbours has √2 times the spread.
        static double Tail(double alone) => -MathNet.Numerics.Distributions.Normal.InvCDF(0, 1, 1 / (2 * alone));
        if (!watchesRange)
        {
            return new IndividualsDesign(Tail(interval));
        }

        static IndividualsDesign Shared(double alone) => new(Tail(alone), Math.Sqrt(2) * Tail(alone));
        double share = Rising(alone => ArlOfIndividuals.Of(Shared(alone), 0), interval, 1.0001, 2 * interval, nameof(interval));
        return Shared(share);
    }

    /// <summary>λ below this asks for more nodes than the run-length equation is given.</summary>
    public const double LeastWeight = 0.005;

    private static void CheckInterval(double interval)
    {
        if (!(interval >= ShortestInterval) || !(interval <= LongestInterval))
        {
            throw new ArgumentException($"A false-alarm interval is {ShortestInterval} to {LongestInterval:0} values.", nameof(interval));
        }
    }

    /// <summary>Where a run length that rises with its argument reaches the wanted one.</summary>
    private static double Rising(Func<double, double> length, double wanted, double low, double high, string name)
    {
        double Off(double x) => Math.Log(length(x) / wanted);
        if (Off(low) > 0)
        {
            throw new ArgumentException($"Every choice alarms more rarely than every {wanted} values.", name);
        }

        for (int doubling = 0; Off(high) < 0; doubling++)
        {
            (low, high) = (high, 2 * high);
            if (doubling > 12)
            {
                throw new ArgumentException($"No choice alarms as rarely as every {wanted} values.", name);
            }
        }

        return Brent.FindRoot(Off, low, high, Accuracy, MostRounds);
    }
}
