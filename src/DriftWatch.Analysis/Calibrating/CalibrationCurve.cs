using MathNet.Numerics.LinearAlgebra;

namespace DriftWatch.Analysis.Calibrating;

/// <summary>
/// A polynomial fitted to calibration points, with the covariances of its coefficients kept, so that the uncertainty of any
/// value read from it is right: u²(ŷ(x)) = hᵀVh with h the powers of x (JCGM 100:2008, 5.2.2 and example H.3; leaving the
/// covariances out nearly doubles the uncertainty of that example). Values are y in the unit of what is indicated or
/// corrected, x in the unit of the points.
/// </summary>
public sealed class CalibrationCurve
{
    private readonly Vector<double> _basis;
    private readonly Matrix<double> _covariance;
    private readonly double _middle;
    private readonly double _half;
    private readonly double _common;
    private readonly double _commonFreedom = double.PositiveInfinity;

    // The basis is the coefficients of powers of (x−middle)/half, lowest first; the covariance is theirs.
    internal CalibrationCurve(
        Vector<double> basis, Matrix<double> covariance, double middle, double half, double least, double greatest,
        double residual, double freedom, double? misfit, int points)
    {
        (_basis, _covariance, _middle, _half) = (basis, covariance, middle, half);
        (Least, Greatest, ResidualDeviation, Freedom, Misfit, Points) = (least, greatest, residual, freedom, misfit, points);
    }

    private CalibrationCurve(CalibrationCurve curve, double common, double commonFreedom)
        : this(curve._basis, curve._covariance, curve._middle, curve._half, curve.Least, curve.Greatest, curve.ResidualDeviation, curve.Freedom, curve.Misfit, curve.Points)
    {
        _common = common;
        _commonFreedom = commonFreedom;
    }

    public int Degree => _basis.Count - 1;

    /// <summary>How many points were fitted.</summary>
    public int Points { get; }

    /// <summary>The lowest x that was calibrated.</summary>
    public double Least { get; }

    /// <summary>The highest x that was calibrated.</summary>
    public double Greatest { get; }

    /// <summary>s, the standard deviation of points about the curve, in the unit of y; with given uncertainties that of weight one.</summary>
    public double ResidualDeviation { get; }

    /// <summary>ν of the coefficients' uncertainties: points less coefficients, or infinite where uncertainties were given.</summary>
    public double Freedom { get; }

    /// <summary>
    /// √(χ²/ν) where uncertainties of the points were given (the Birge ratio): about 1 if they explain the scatter, above if
    /// something is missing. Null where s came from the scatter itself.
    /// </summary>
    public double? Misfit { get; }

    /// <summary>Whether it rises, or falls, all the way from a tenth of the range below what was calibrated to a tenth above.</summary>
    public bool IsMonotone
    {
        get
        {
            const int Steps = 256;
            int sign = Math.Sign(Slope(Least));
            for (int i = 0; i <= Steps && sign != 0; i++)
            {
                if (Math.Sign(Slope(Least + ((Greatest - Least) * (-0.1 + (1.2 * i / Steps))))) != sign)
                {
                    return false;
                }
            }

            return sign != 0;
        }
    }

    /// <summary>The same curve with an error common to all y, such as that of the reference standard: it moves the curve as a whole and no average lowers it.</summary>
    /// <param name="standardUncertainty">In the unit of y, zero or above.</param>
    /// <param name="freedom">Its degrees of freedom, above zero.</param>
    public CalibrationCurve WithCommonUncertainty(double standardUncertainty, double freedom = double.PositiveInfinity)
    {
        if (!(standardUncertainty >= 0 && double.IsFinite(standardUncertainty)))
        {
            throw new ArgumentOutOfRangeException(nameof(standardUncertainty), standardUncertainty, "An uncertainty is not below zero.");
        }

        return freedom > 0
            ? new CalibrationCurve(this, standardUncertainty, freedom)
            : throw new ArgumentOutOfRangeException(nameof(freedom), freedom, "Degrees of freedom are above zero.");
    }

    /// <summary>Coefficients of powers of (x−origin), lowest first, each in the unit of y over that power of x's; any common uncertainty is in the first.</summary>
    public IReadOnlyList<Uncertain> Coefficients(double origin = 0)
    {
        Matrix<double> map = Map(origin);
        Vector<double> values = map * _basis;
        Matrix<double> covariance = map * _covariance * map.Transpose();
        return [.. Enumerable.Range(0, values.Count).Select(i => Coverage.Combine(
            values[i], (Math.Sqrt(Math.Max(0, covariance[i, i])), Freedom), (i == 0 ? _common : 0, _commonFreedom)))];
    }

    /// <summary>The covariance of two coefficients about an origin, common uncertainty left out.</summary>
    public double Covariance(int first, int second, double origin = 0)
    {
        Matrix<double> map = Map(origin);
        return (map * _covariance * map.Transpose())[first, second];
    }

    /// <summary>The correlation coefficient of two coefficients about an origin, common uncertainty left out; r(y₁, y₂) of the GUM for a line.</summary>
    public double Correlation(int first, int second, double origin = 0) =>
        Covariance(first, second, origin) / Math.Sqrt(Covariance(first, first, origin) * Covariance(second, second, origin));

    /// <summary>The curve at x with the uncertainty of the curve itself: what a correction read from it is good for.</summary>
    /// <exception cref="ArgumentException">x is not finite.</exception>
    public Uncertain At(double x)
    {
        Statistics.Finite.Require(x);
        Vector<double> powers = Powers(x);
        double variance = powers * (_covariance * powers);
        return Coverage.Combine(powers * _basis, (Math.Sqrt(Math.Max(0, variance)), Freedom), (_common, _commonFreedom));
    }

    /// <summary>
    /// One further observation at x: the curve's uncertainty and the scatter s of single points, which came from the same
    /// residuals and so have the same degrees of freedom. Only for a curve fitted without given uncertainties.
    /// </summary>
    /// <exception cref="InvalidOperationException">Uncertainties were given: say that of the observation to <see cref="Corrected"/>.</exception>
    public Uncertain Observation(double x)
    {
        Statistics.Finite.Require(x);
        if (Misfit is not null)
        {
            throw new InvalidOperationException("The points had uncertainties of their own; a further observation needs one as well.");
        }

        Vector<double> powers = Powers(x);
        double variance = (powers * (_covariance * powers)) + (ResidualDeviation * ResidualDeviation);
        return Coverage.Combine(powers * _basis, (Math.Sqrt(variance), Freedom), (_common, _commonFreedom));
    }

    /// <summary>
    /// Direct use: the value that a raw reading stands for, y = f(raw), with the uncertainties of the curve and of the reading,
    /// the latter through the slope.
    /// </summary>
    /// <param name="raw">The reading in the unit of x with its uncertainty.</param>
    public Uncertain Corrected(Uncertain raw)
    {
        Uncertain curve = At(raw.Value);
        return Coverage.Combine(
            curve.Value, (curve.StandardUncertainty, curve.Freedom), (Math.Abs(Slope(raw.Value)) * raw.StandardUncertainty, raw.Freedom));
    }

    /// <summary>
    /// Inverse use: the x at which the curve has the value read, f(x) = y. Its uncertainty is that of the reading and of the
    /// curve there over the slope, the law of propagation to first order: good where the slope is known to a few percent.
    /// </summary>
    /// <param name="reading">y with its uncertainty.</param>
    /// <returns>A shortfall where the curve turns within the calibrated range, or the reading lies outside of it.</returns>
    public Answer<Uncertain> Inverse(Uncertain reading)
    {
        Statistics.Finite.Require(reading.Value, nameof(reading));
        Answer<double> found = Solve(reading.Value);
        if (!found.IsKnown)
        {
            return found.Missing!;
        }

        Uncertain curve = At(found.Value);
        return Coverage.Combine(found.Value, Through(found.Value, curve), Through(found.Value, reading));
    }

    /// <summary>
    /// Inverse use for one further observation with the scatter that the points had: the uncertainties of curve and reading
    /// come from the same residuals and have their degrees of freedom. Only for a curve fitted without given uncertainties.
    /// </summary>
    /// <inheritdoc cref="Inverse"/>
    /// <exception cref="InvalidOperationException">Uncertainties were given: use <see cref="Inverse"/>.</exception>
    public Answer<Uncertain> InverseObservation(double reading)
    {
        Statistics.Finite.Require(reading);
        Answer<double> found = Solve(reading);
        return found.IsKnown ? Coverage.Combine(found.Value, Through(found.Value, Observation(found.Value))) : found.Missing!;
    }

    /// <summary>
    /// The same curve with uncertainties widened (or narrowed) to the scatter that was seen, where they had been given: times
    /// <see cref="Misfit"/>, with the degrees of freedom of the residuals.
    /// </summary>
    public CalibrationCurve ScaledToScatter()
    {
        if (Misfit is not { } misfit)
        {
            return this;
        }

        var scaled = new CalibrationCurve(
            _basis, misfit * misfit * _covariance, _middle, _half, Least, Greatest, ResidualDeviation, Points - _basis.Count, misfit, Points);
        return new CalibrationCurve(scaled, _common, _commonFreedom);
    }

    internal double Slope(double x)
    {
        double z = (x - _middle) / _half;
        double slope = 0;
        for (int i = Degree; i >= 1; i--)
        {
            slope = (slope * z) + (i * _basis[i]);
        }

        return slope / _half;
    }

    private (double StandardUncertainty, double Freedom) Through(double x, Uncertain y) =>
        (y.StandardUncertainty / Math.Abs(Slope(x)), y.Freedom);

    private Answer<double> Solve(double y)
    {
        if (!IsMonotone)
        {
            return new Shortfall("calibrated ranges without a turn", 0, 1);
        }

        // A tenth of the range beyond each end is taken too: readings there are corrected, with an uncertainty that grows.
        double margin = 0.1 * (Greatest - Least);
        double low = Least - margin;
        double high = Greatest + margin;
        double sign = Math.Sign(Value(high) - Value(low));
        if (sign == 0 || sign * (y - Value(low)) < 0 || sign * (Value(high) - y) < 0)
        {
            return new Shortfall("crossings of this reading in the calibrated range", 0, 1);
        }

        // Halved to the last digit: some fifty steps, never astray.
        while (true)
        {
            double middle = low + ((high - low) / 2);
            if (middle <= low || middle >= high)
            {
                break;
            }

            if (sign * (Value(middle) - y) < 0)
            {
                low = middle;
            }
            else
            {
                high = middle;
            }
        }

        // Of the two neighbours the nearer one.
        return Math.Abs(Value(low) - y) < Math.Abs(Value(high) - y) ? low : high;
    }

    private double Value(double x)
    {
        double z = (x - _middle) / _half;
        double value = 0;
        for (int i = Degree; i >= 0; i--)
        {
            value = (value * z) + _basis[i];
        }

        return value;
    }

    private Vector<double> Powers(double x)
    {
        double z = (x - _middle) / _half;
        Vector<double> powers = Vector<double>.Build.Dense(_basis.Count, 1);
        for (int i = 1; i < powers.Count; i++)
        {
            powers[i] = powers[i - 1] * z;
        }

        return powers;
    }

    /// <summary>From powers of (x−middle)/half to powers of (x−origin): ((x−origin) − (middle−origin))ⁱ / halfⁱ by the binomials.</summary>
    private Matrix<double> Map(double origin)
    {
        int n = _basis.Count;
        double shift = origin - _middle;
        Matrix<double> map = Matrix<double>.Build.Dense(n, n);
        for (int i = 0; i < n; i++)
        {
            for (int j = 0; j <= i; j++)
            {
                map[j, i] = MathNet.Numerics.SpecialFunctions.Binomial(i, j) * Math.Pow(shift, i - j) / Math.Pow(_half, i);
            }
        }

        return map;
    }
}
