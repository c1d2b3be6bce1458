using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Measurement.Channels;
using MathNet.Numerics.LinearAlgebra;
using MathNet.Numerics.LinearAlgebra.Factorization;

namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>
/// Least squares on one fixed axis, worked out once: a record is then a few hundred products, a few microseconds, and allocates
/// nothing. Standard errors allow for noise that hangs together along the pass (<see cref="SerialErrors"/>).
/// </summary>
public sealed class TimingDecomposer
{
    /// <summary>Beyond this condition of the unit columns, a term can't be told from the others at all.</summary>
    private const double HopelessCondition = 1e6;

    private readonly TermLayout _layout;
    private readonly double[] _design;
    private readonly double[] _inverse;
    private readonly int[] _slots;
    private readonly double[] _residual;
    private readonly SerialErrors _errors;
    private readonly QR<double> _factors;
    private readonly int _heads;

    private TimingDecomposer(TermLayout layout, Matrix<double> design, QR<double> factors, double condition, ReadOnlySpan<int> slots)
    {
        int n = design.RowCount;
        int p = layout.Columns;
        _layout = layout;
        _factors = factors;
        Condition = condition;
        _slots = slots.ToArray();
        _residual = new double[n];
        _design = Rows(design);
        Matrix<double> coefficients = factors.R.Solve(factors.Q.Transpose());
        var rows = new double[layout.Reported][];
        for (int j = 0; j < p; j++)
        {
            rows[j] = coefficients.Row(j).ToArray();
        }

        for (int last = p; last < layout.Reported; last++)
        {
            // The last head's own are minus the sum of the others'.
            int from = last == p ? 1 : layout.FirstSlope;
            rows[last] = [.. Enumerable.Range(0, n).Select(i => -Enumerable.Range(from, layout.Contrasts).Sum(j => rows[j][i]))];
        }

        _inverse = [.. rows.SelectMany(r => r)];
        _errors = new SerialErrors(Rows(factors.Q), p, rows, slots);
        foreach (int head in layout.Present)
        {
            _heads |= 1 << (head - 1);
        }
    }

    public TimingModel Model => _layout.Model;

    /// <summary>Points of the axis.</summary>
    public int Count => _residual.Length;

    /// <summary>Of the design with columns of unit length: 2 where the terms are well apart, 30 where some are hardly told apart.</summary>
    public double Condition { get; }

    /// <summary>Points less terms.</summary>
    internal int LeftOver => Count - _layout.Columns;

    /// <summary>For the declared axis of a frame.</summary>
    /// <inheritdoc cref="For"/>
    public static Answer<TimingDecomposer> ForAxis(FrameAxis axis, TimingModel model = TimingModel.PerHeadSlopes)
    {
        ArgumentNullException.ThrowIfNull(axis);
        int[] heads = [.. axis.Heads];
        double[] angles = [.. axis.AnglesDegrees];
        TimingSamples.CheckAxis(heads, angles);
        return Make(heads, angles, [.. Enumerable.Range(0, heads.Length)], model);
    }

    /// <summary>For the axis of these samples; every head among them has 4 points or more.</summary>
    /// <returns>A shortfall where the points can't tell the terms apart.</returns>
    public static Answer<TimingDecomposer> For(TimingSamples samples, TimingModel model = TimingModel.PerHeadSlopes)
    {
        ArgumentNullException.ThrowIfNull(samples);
        return Make(samples.Heads, samples.AnglesDegrees, samples.Slots, model);
    }

    /// <summary>One record on the axis. Not for two threads at once: the residuals are kept in place.</summary>
    /// <param name="errorsNs">As many as the axis has points, finite.</param>
    /// <exception cref="ArgumentException">Another number of errors, or one that is not finite.</exception>
    public TimingTerms Decompose(ReadOnlySpan<double> errorsNs)
    {
        if (errorsNs.Length != Count)
        {
            throw new ArgumentException($"{errorsNs.Length} errors for an axis of {Count} points.", nameof(errorsNs));
        }

        Finite.Require(errorsNs);
        Span<double> reported = stackalloc double[_layout.Reported];
        for (int j = 0; j < reported.Length; j++)
        {
            double sum = 0;
            int row = j * Count;
            for (int i = 0; i < Count; i++)
            {
                sum += _inverse[row + i] * errorsNs[i];
            }

            reported[j] = sum;
        }

        return Finish(errorsNs, reported);
    }

    /// <summary>The same by the factors of the design, without the inverse: what the precomputed way is held against.</summary>
    internal TimingTerms Solve(ReadOnlySpan<double> errorsNs)
    {
        double[] coefficients = _factors.Solve(Vector<double>.Build.DenseOfArray(errorsNs.ToArray())).ToArray();
        Span<double> reported = stackalloc double[_layout.Reported];
        coefficients.CopyTo(reported);
        for (int last = coefficients.Length; last < reported.Length; last++)
        {
            int from = last == coefficients.Length ? 1 : _layout.FirstSlope;
            for (int j = 0; j < _layout.Contrasts; j++)
            {
                reported[last] -= coefficients[from + j];
            }
        }

        return Finish(errorsNs, reported);
    }

    /// <summary>What the last record's terms left, in ns, one a point. Overwritten by the next.</summary>
    public ReadOnlySpan<double> ResidualNs => _residual;

    /// <summary>Standard errors that noise of this deviation and correlation gives on this axis; the terms themselves are 0.</summary>
    /// <param name="noiseNs">Zero or above.</param>
    /// <param name="correlation">From one sample to the next, −0.6 … 0.95.</param>
    public TimingTerms ErrorsFor(double noiseNs, double correlation = 0)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(noiseNs);
        if (!(correlation >= -0.6 && correlation <= 0.95))
        {
            throw new ArgumentOutOfRangeException(nameof(correlation), correlation, "Correlations are tabled from -0.6 to 0.95.");
        }

        Span<double> reported = stackalloc double[_layout.Reported];
        return Terms(reported, noiseNs, correlation, 0);
    }

    private static Answer<TimingDecomposer> Make(ReadOnlySpan<int> heads, ReadOnlySpan<double> anglesDegrees, ReadOnlySpan<int> slots, TimingModel model)
    {
        Span<int> counts = stackalloc int[4];
        foreach (int head in heads)
        {
            counts[head - 1]++;
        }

        var present = new List<int>(4);
        for (int k = 0; k < 4; k++)
        {
            if (counts[k] > 0)
            {
                present.Add(k + 1);
            }

            if (counts[k] is > 0 and < TimingTerms.LeastPointsOfAHead)
            {
                return new Shortfall($"points of head {k + 1}", counts[k], TimingTerms.LeastPointsOfAHead);
            }
        }

        if (present.Count == 0)
        {
            return new Shortfall("points", 0, LeastPoints(1));
        }

        var layout = new TermLayout(model, present);
        int n = heads.Length;
        if (n < LeastPoints(layout.Columns))
        {
            return new Shortfall("points", n, LeastPoints(layout.Columns));
        }

        Matrix<double> design = Matrix<double>.Build.Dense(n, layout.Columns);
        double[] row = new double[layout.Columns];
        for (int i = 0; i < n; i++)
        {
            layout.Fill(row, heads[i], anglesDegrees[i]);
            design.SetRow(i, row);
        }

        double condition = UnitCondition(design);
        if (!(condition < HopelessCondition))
        {
            return new Shortfall("different angles", Distinct(anglesDegrees), 3);
        }

        QR<double> factors = design.QR(QRMethod.Thin);
        return new TimingDecomposer(layout, design, factors, condition, slots);
    }

    /// <summary>Something must be left over to judge by.</summary>
    private static int LeastPoints(int columns) => columns + 3;

    private static double UnitCondition(Matrix<double> design)
    {
        // The eigenvalues of the small normal matrix do: beyond their digits nothing is fitted anyway.
        Matrix<double> unit = design.NormalizeColumns(2);
        Vector<double> eigen = unit.TransposeThisAndMultiply(unit).Evd(Symmetricity.Symmetric).EigenValues.Real();
        double least = eigen.Minimum();
        return least > 0 ? Math.Sqrt(eigen.Maximum() / least) : double.PositiveInfinity;
    }

    private static int Distinct(ReadOnlySpan<double> anglesDegrees)
    {
        var seen = new HashSet<double>();
        foreach (double angle in anglesDegrees)
        {
            seen.Add(angle);
        }

        return Math.Min(2, seen.Count);
    }

    private static double[] Rows(Matrix<double> matrix) => matrix.ToRowMajorArray();

    private TimingTerms Finish(ReadOnlySpan<double> errorsNs, ReadOnlySpan<double> reported)
    {
        int p = _layout.Columns;
        double squares = 0;
        double nexts = 0;
        for (int i = 0; i < Count; i++)
        {
            double rest = errorsNs[i];
            int row = i * p;
            for (int j = 0; j < p; j++)
            {
                rest -= _design[row + j] * reported[j];
            }

            _residual[i] = rest;
            squares += rest * rest;
            if (i > 0 && _slots[i] == _slots[i - 1] + 1)
            {
                nexts += rest * _residual[i - 1];
            }
        }

        (double rho, double sigma) = _errors.Noise(squares, nexts);
        return Terms(reported, sigma, rho, Math.Sqrt(squares / Count));
    }

    private TimingTerms Terms(ReadOnlySpan<double> reported, double sigma, double rho, double rms)
    {
        // Bartlett (1946): a variance of n values of this series is as unsure as one of n(1−ρ²)/(1+ρ²) independent ones.
        double freedom = Math.Max(1, LeftOver * (1 - (rho * rho)) / (1 + (rho * rho)));
        var steps = default(PerHead<Uncertain>);
        var slopes = default(PerHead<Uncertain>);
        for (int k = 0; k < _layout.Present.Count; k++)
        {
            steps[_layout.Present[k] - 1] = Of(reported, _layout.StepRow(k), sigma, rho, freedom);
            slopes[_layout.Present[k] - 1] = Of(reported, _layout.SlopeRow(k), sigma, rho, freedom);
        }

        return new TimingTerms(Model, _heads, steps, slopes)
        {
            Mean = Of(reported, 0, sigma, rho, freedom),
            Skew = Of(reported, _layout.Skew, sigma, rho, freedom),
            Scallop = Of(reported, _layout.Scallop, sigma, rho, freedom),
            RevolutionSine = Of(reported, _layout.Sine, sigma, rho, freedom),
            RevolutionCosine = Of(reported, _layout.Sine < 0 ? -1 : _layout.Sine + 1, sigma, rho, freedom),
            ResidualRmsNs = rms,
            NoiseNs = sigma,
            Correlation = rho,
            Points = Count,
        };
    }

    private Uncertain Of(ReadOnlySpan<double> reported, int row, double sigma, double rho, double freedom) =>
        row < 0 ? default : new Uncertain(reported[row], sigma * _errors.UnitError(row, rho), freedom);
}
