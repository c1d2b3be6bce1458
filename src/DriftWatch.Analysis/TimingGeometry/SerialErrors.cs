namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>
/// What first-order autoregressive noise, correlation ρᵏ between samples k apart, does to a least-squares fit on one grid.
/// With M = I − QQ' the residual maker and V the correlation matrix, the residuals' sum of squares is σ²·tr(MV) on average and the sum of
/// their products with the next σ²·tr(M·L₁·M·V)/2; their ratio, tabled over ρ, is turned round to find ρ free of the fit's own
/// bias, and a coefficient c'y has the variance σ²·c'Vc. Derived; exact in expectation for every grid, and cheap to ask, since
/// everything that depends on the grid is worked out once.
/// </summary>
internal sealed class SerialErrors
{
    /// <summary>Farthest lag that is summed: 0.95 to its power is a thousandth.</summary>
    private const int FarthestLag = 135;
    private const int Steps = 156;
    private const double LeastRho = -0.6;

    /// <summary>Beyond this one record can't be told from one that wanders.</summary>
    private const double GreatestRho = 0.95;

    private readonly double[] _ratio = new double[Steps];
    private readonly double[] _trace = new double[Steps];
    private readonly double[][] _variance;
    private readonly int _last;

    /// <param name="q">Orthonormal columns of the design, row by row of the samples: q[i·p + j].</param>
    /// <param name="columns">p.</param>
    /// <param name="rows">Coefficients as rows over the samples: rows[j][i].</param>
    /// <param name="slots">Place of each sample in time, rising.</param>
    public SerialErrors(double[] q, int columns, double[][] rows, ReadOnlySpan<int> slots)
    {
        int n = slots.Length;
        int first = slots[0];
        int length = slots[^1] - first + 1;
        int lags = Math.Min(FarthestLag, length - 1);
        var at = new int[length];
        Array.Fill(at, -1);
        for (int i = 0; i < n; i++)
        {
            at[slots[i] - first] = i;
        }

        double[] traces = Traces(q, columns, at, lags, n, out double[] products);
        _variance = new double[rows.Length][];
        for (int j = 0; j < rows.Length; j++)
        {
            _variance[j] = Table(Products(rows[j], at, lags));
        }

        double[] trace = Table(traces);
        double[] next = Table(products);
        for (int s = 0; s < Steps; s++)
        {
            _trace[s] = trace[s];
            _ratio[s] = next[s] / trace[s];
        }

        // Once the fit takes more of slow noise than is left, the ratio stops rising: what is beyond is not told apart.
        _last = Steps - 1;
        for (int s = 1; s < Steps; s++)
        {
            if (!(_ratio[s] > _ratio[s - 1]))
            {
                _last = Math.Max(1, s - 1);
                break;
            }
        }
    }

    /// <summary>ρ and σ from the residuals' sum of squares and the sum of their products with the next.</summary>
    public (double Rho, double Sigma) Noise(double squares, double nexts)
    {
        double place = Place(squares > 0 ? nexts / squares : 0);
        return (LeastRho + (place * Step), Math.Sqrt(squares / Read(_trace, place)));
    }

    /// <summary>Standard error of a coefficient at this ρ for σ = 1.</summary>
    public double UnitError(int row, double rho) => Math.Sqrt(Math.Max(0, Read(_variance[row], (rho - LeastRho) / Step)));

    private const double Step = (GreatestRho - LeastRho) / (Steps - 1);

    private double Place(double ratio)
    {
        if (ratio <= _ratio[0])
        {
            return 0;
        }

        int low = 0;
        int high = _last;
        if (ratio >= _ratio[high])
        {
            return high;
        }

        while (high - low > 1)
        {
            int middle = (low + high) / 2;
            (low, high) = _ratio[middle] <= ratio ? (middle, high) : (low, middle);
        }

        return low + ((ratio - _ratio[low]) / (_ratio[high] - _ratio[low]));
    }

    private static double Read(double[] table, double place)
    {
        int low = Math.Clamp((int)place, 0, Steps - 2);
        return table[low] + ((place - low) * (table[low + 1] - table[low]));
    }

    /// <summary>Σ over lags of weight·ρᵏ at each ρ of the table.</summary>
    private static double[] Table(double[] weights)
    {
        var table = new double[Steps];
        for (int s = 0; s < Steps; s++)
        {
            double rho = LeastRho + (s * Step);
            double power = 1;
            for (int k = 0; k < weights.Length; k++)
            {
                table[s] += weights[k] * power;
                power *= rho;
            }
        }

        return table;
    }

    /// <summary>Weights of c'Vc: Σc² and 2Σcᵢcᵢ₊ₖ.</summary>
    private static double[] Products(double[] row, int[] at, int lags)
    {
        var weights = new double[lags + 1];
        for (int k = 0; k <= lags; k++)
        {
            for (int s = 0; s + k < at.Length; s++)
            {
                if (at[s] >= 0 && at[s + k] >= 0)
                {
                    weights[k] += (k == 0 ? 1 : 2) * row[at[s]] * row[at[s + k]];
                }
            }
        }

        return weights;
    }

    /// <summary>Weights of tr(MV), and of tr(M·L₁·M·V)/2 with L₁ pairing neighbours.</summary>
    private static double[] Traces(double[] q, int p, int[] at, int lags, int n, out double[] products)
    {
        var traces = new double[lags + 1];
        products = new double[lags + 1];
        traces[0] = n - p;
        double[] one = Shift(q, p, at, 1);
        double[,] gram = Gram(q, one, p, n);
        int neighbours = 0;
        for (int s = 0; s + 1 < at.Length; s++)
        {
            neighbours += at[s] >= 0 && at[s + 1] >= 0 ? 1 : 0;
        }

        products[0] = -Trace(gram, p) / 2;
        for (int k = 1; k <= lags; k++)
        {
            double[] other = k == 1 ? one : Shift(q, p, at, k);
            double[,] far = Gram(q, other, p, n);
            double cross = 0;
            for (int i = 0; i < n * p; i++)
            {
                cross += one[i] * other[i];
            }

            double both = 0;
            for (int a = 0; a < p; a++)
            {
                for (int b = 0; b < p; b++)
                {
                    both += gram[a, b] * far[b, a];
                }
            }

            traces[k] = -Trace(far, p);
            products[k] = ((k == 1 ? 2.0 * neighbours : 0) - (2 * cross) + both) / 2;
        }

        return traces;
    }

    /// <summary>Lₖ·Q: for each sample the sum of the rows k before and k after it.</summary>
    private static double[] Shift(double[] q, int p, int[] at, int k)
    {
        var shifted = new double[q.Length];
        for (int s = 0; s + k < at.Length; s++)
        {
            int a = at[s];
            int b = at[s + k];
            if (a >= 0 && b >= 0)
            {
                for (int j = 0; j < p; j++)
                {
                    shifted[(a * p) + j] += q[(b * p) + j];
                    shifted[(b * p) + j] += q[(a * p) + j];
                }
            }
        }

        return shifted;
    }

    private static double[,] Gram(double[] q, double[] shifted, int p, int n)
    {
        var gram = new double[p, p];
        for (int i = 0; i < n; i++)
        {
            for (int a = 0; a < p; a++)
            {
                double left = q[(i * p) + a];
                for (int b = 0; b < p; b++)
                {
                    gram[a, b] += left * shifted[(i * p) + b];
                }
            }
        }

        return gram;
    }

    private static double Trace(double[,] matrix, int p)
    {
        double sum = 0;
        for (int a = 0; a < p; a++)
        {
            sum += matrix[a, a];
        }

        return sum;
    }
}
