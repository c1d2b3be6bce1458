namespace DriftWatch.Analysis.Relations;

/// <summary>The autoregressive filter that whitens a series, from its autocorrelations.</summary>
internal static class AutoregressiveFilter
{
    /// <summary>
    /// Levinson and Durbin's recursion (Durbin 1960), the order from 0 to the longest by Akaike's criterion n·ln σ² + 2p (Akaike 1974): it is
    /// rather long than short, and for whitening too long does less harm.
    /// </summary>
    /// <param name="r">Autocorrelations at lags 0 … the longest order.</param>
    /// <param name="points">n behind them.</param>
    public static double[] Best(double[] r, int points)
    {
        double[] phi = [];
        double[] best = phi;
        double variance = 1;
        double least = 0;
        for (int p = 1; p < r.Length; p++)
        {
            double sum = r[p];
            for (int j = 0; j < phi.Length; j++)
            {
                sum -= phi[j] * r[p - 1 - j];
            }

            double reflection = sum / variance;
            if (!(Math.Abs(reflection) < 1))
            {
                // Autocorrelations over gaps need not be positive definite; what was found so far stands.
                break;
            }

            double[] next = new double[p];
            for (int j = 0; j < phi.Length; j++)
            {
                next[j] = phi[j] - (reflection * phi[phi.Length - 1 - j]);
            }

            next[p - 1] = reflection;
            variance *= 1 - (reflection * reflection);
            phi = next;
            double criterion = (points * Math.Log(variance)) + (2 * p);
            if (criterion < least)
            {
                (best, least) = (phi, criterion);
            }
        }

        return best;
    }
}
