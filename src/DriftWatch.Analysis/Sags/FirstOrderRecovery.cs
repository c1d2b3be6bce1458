namespace DriftWatch.Analysis.Sags;

/// <summary>The time constant of a recovery with its standard error, both in seconds, and the deficit at time zero.</summary>
public readonly record struct RecoveryFit(double TimeConstantSeconds, double StandardErrorSeconds, double Amplitude, int Points);

/// <summary>
/// Fits deficit(t) = A·exp(−t/τ), the recovery of a first-order system towards a level that is known, such as air in a
/// small volume behind a regulator. Least squares in the deficit itself (Gauss–Newton), which is the maximum of
/// likelihood for additive noise of one size; least squares on the logarithm would give the noisy tail the same
/// say as the clean beginning, so it only provides the first guess, weighted by the square of the deficit (the delta
/// method). The standard error is that of the linearised problem with the residuals' own variance.
/// Method: textbook nonlinear regression (Bates and Watts, 'Nonlinear Regression Analysis and Its Applications', 1988).
/// </summary>
public static class FirstOrderRecovery
{
    /// <summary>Two parameters and a variance: fewer points than this say nothing about their error.</summary>
    public const int LeastPoints = 4;

    private const int Rounds = 50;

    /// <param name="seconds">Times, rising, any origin.</param>
    /// <param name="deficits">Reference minus value at these times.</param>
    /// <returns>Null where the data do not determine a time constant: too few points, no decay, or an error as large as the value.</returns>
    public static RecoveryFit? Fit(ReadOnlySpan<double> seconds, ReadOnlySpan<double> deficits)
    {
        if (seconds.Length != deficits.Length)
        {
            throw new ArgumentException("As many deficits as times are needed.", nameof(deficits));
        }

        int n = seconds.Length;
        if (n < LeastPoints || FirstGuess(seconds, deficits) is not { } guess)
        {
            return null;
        }

        (double amplitude, double rate) = guess;
        double origin = seconds[0];
        double squares = Squares(seconds, deficits, origin, amplitude, rate);
        double aa = 0, ab = 0, bb = 0;
        for (int round = 0; round < Rounds; round++)
        {
            double ga = 0, gb = 0;
            aa = ab = bb = 0;
            for (int i = 0; i < n; i++)
            {
                double t = seconds[i] - origin;
                double e = Math.Exp(-rate * t);
                double residual = deficits[i] - (amplitude * e);
                double da = e;
                double db = -amplitude * t * e;
                aa += da * da;
                ab += da * db;
                bb += db * db;
                ga += da * residual;
                gb += db * residual;
            }

            double determinant = (aa * bb) - (ab * ab);
            if (!(determinant > 0))
            {
                return null;
            }

            double stepA = ((bb * ga) - (ab * gb)) / determinant;
            double stepB = ((aa * gb) - (ab * ga)) / determinant;

            // Halve a step that makes it worse; each accepted one makes it better, so this ends.
            double share = 1;
            double next = Squares(seconds, deficits, origin, amplitude + stepA, rate + stepB);
            while (!(next <= squares) && share > 1e-6)
            {
                share *= 0.5;
                next = Squares(seconds, deficits, origin, amplitude + (share * stepA), rate + (share * stepB));
            }

            if (!(next <= squares))
            {
                break;
            }

            amplitude += share * stepA;
            rate += share * stepB;
            bool settled = squares - next <= 1e-14 * squares || squares == 0;
            squares = next;
            if (settled)
            {
                break;
            }
        }

        double variance = squares / (n - 2);
        double rateError = Math.Sqrt(variance * aa / ((aa * bb) - (ab * ab)));
        double tau = 1 / rate;
        double tauError = rateError / (rate * rate);
        return rate > 0 && amplitude > 0 && double.IsFinite(tau) && tauError < tau ? new RecoveryFit(tau, tauError, amplitude, n) : null;
    }

    private static double Squares(ReadOnlySpan<double> seconds, ReadOnlySpan<double> deficits, double origin, double amplitude, double rate)
    {
        double sum = 0;
        for (int i = 0; i < seconds.Length; i++)
        {
            double residual = deficits[i] - (amplitude * Math.Exp(-rate * (seconds[i] - origin)));
            sum += residual * residual;
        }

        return sum;
    }

    private static (double Amplitude, double Rate)? FirstGuess(ReadOnlySpan<double> seconds, ReadOnlySpan<double> deficits)
    {
        double w = 0, wt = 0, wl = 0, wtt = 0, wtl = 0;
        int used = 0;
        for (int i = 0; i < seconds.Length; i++)
        {
            if (!(deficits[i] > 0))
            {
                continue;
            }

            double t = seconds[i] - seconds[0];
            double weight = deficits[i] * deficits[i];
            double log = Math.Log(deficits[i]);
            w += weight;
            wt += weight * t;
            wl += weight * log;
            wtt += weight * t * t;
            wtl += weight * t * log;
            used++;
        }

        double determinant = (w * wtt) - (wt * wt);
        if (used < 2 || !(determinant > 0))
        {
            return null;
        }

        double slope = ((w * wtl) - (wt * wl)) / determinant;
        return slope < 0 ? (Math.Exp((wl - (slope * wt)) / w), -slope) : null;
    }
}
