using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>Where one head sits best on its track. Positions are in the unit of the sweep, levels in dB.</summary>
/// <param name="Position">Of the peak.</param>
/// <param name="Lower">Lower limit of it at the confidence asked for.</param>
/// <param name="Upper">Upper limit.</param>
/// <param name="StandardError">Half the interval over Student's t.</param>
/// <param name="TopDb">Level at the peak, dB.</param>
/// <param name="FlatHalfWidth">Half of a flat top, 0 where there is none: a head wider or narrower than the track.</param>
/// <param name="Width">From the end of the flat top to where a flank would reach nothing: the narrower of track and head. 10 mil is to be expected.</param>
/// <param name="ScatterDb">Of the readings about the two lines, dB.</param>
/// <param name="DegreesOfFreedom">Points less parameters.</param>
public readonly record struct TrackingPeakFit(
    double Position, double Lower, double Upper, double StandardError, double TopDb, double FlatHalfWidth, double Width, double ScatterDb, int DegreesOfFreedom)
{
    /// <summary>What the head loses at a position against its own peak, dB, 0 or above; infinite beyond the flanks' ends.</summary>
    public double LossDb(double position)
    {
        double beyond = Math.Max(0, Math.Abs(position - Position) - FlatHalfWidth);
        return beyond == 0 ? 0 : -20 * Math.Log10(Math.Max(0, 1 - (beyond / Width)));
    }
}

/// <summary>
/// The peak of a tracking sweep by two straight lines of opposite slope in linear volts, with a flat top between them where the data ask
/// for one: V = top − slope·max(0, |x − peak| − flat). Overlap of two rectangles gives just this (<see cref="TrackingTriangle"/>). Peak
/// and flat top are searched, the lines are least squares, weighted so that all decibels count alike because that is how a level detector
/// scatters. The interval holds every peak that an F test of the profile doesn't exclude (Bates and Watts, 'Nonlinear Regression Analysis and
/// Its Applications', 1988), since the sum of squares has corners, and no second derivative could give an error.
/// </summary>
public static class TrackingPeak
{
    /// <summary>Fewer points don't show two flanks. Source: common practice, no source.</summary>
    public const int LeastPoints = 5;

    /// <summary>The sweep should reach ±4 mil: 4.4 dB down both ways. Source: common practice, no source.</summary>
    public const double WantedSpanMil = 8;

    /// <summary>On either side of the peak two points at least, or there is no line.</summary>
    private const int LeastOnAFlank = 2;

    /// <summary>From this many points on a flat top is looked for; it costs a degree of freedom.</summary>
    private const int LeastForFlat = 7;

    private const int GridPoints = 121;

    /// <param name="positions">Of the control, in any order; the same one may be read several times.</param>
    /// <param name="levelsDb">As many, dB over any one reference.</param>
    /// <param name="milPerUnit">
    /// What a unit of the control moves the track by; null where it is not known, and then the flanks tell: the track is
    /// <see cref="TrackingTriangle.TrackMil"/> wide.
    /// </param>
    /// <param name="confidence">Of the interval, two-sided.</param>
    /// <returns>A shortfall with fewer than 5 points, less than 8 mil of span, or where one flank or the peak can't be told.</returns>
    /// <exception cref="ArgumentException">Lengths differ, a number is not finite, or the scale is not above zero.</exception>
    public static Answer<TrackingPeakFit> Fit(
        ReadOnlySpan<double> positions, ReadOnlySpan<double> levelsDb, double? milPerUnit = 1, double confidence = 0.95)
    {
        Check(positions, levelsDb, milPerUnit);
        Points.CheckConfidence(confidence);
        int n = positions.Length;
        if (n < LeastPoints)
        {
            return new Shortfall("points of the sweep", n, LeastPoints);
        }

        double[] x = positions.ToArray();
        double[] db = levelsDb.ToArray();
        Array.Sort(x, db);
        double span = x[^1] - x[0];
        if (milPerUnit is { } scale && !Reaches(span * scale))
        {
            return new Shortfall("mil of sweep", span * scale, WantedSpanMil);
        }

        int distinct = x.Distinct().Count();
        if (distinct < LeastPoints)
        {
            return new Shortfall("different positions", distinct, LeastPoints);
        }

        var flanks = new Flanks(x, db, n >= LeastForFlat);
        if (!(x[LeastOnAFlank - 1] < x[n - LeastOnAFlank]))
        {
            return new Shortfall("points on the shorter side of the peak", 1, LeastOnAFlank);
        }

        return AtBest(flanks, x, milPerUnit, confidence);
    }

    private static Answer<TrackingPeakFit> AtBest(Flanks flanks, double[] x, double? milPerUnit, double confidence)
    {
        int n = x.Length;
        double from = x[LeastOnAFlank - 1];
        double to = x[n - LeastOnAFlank];
        double step = (to - from) / (GridPoints - 1);
        double[] profile = [.. Enumerable.Range(0, GridPoints).Select(i => flanks.Profile(from + (i * step)).Squares)];
        int place = Array.IndexOf(profile, profile.Min());
        double best = Minimum(c => flanks.Profile(c).Squares, Math.Max(from, from + ((place - 1) * step)), Math.Min(to, from + ((place + 1) * step)));
        Line line = flanks.Profile(best);
        Line pointed = flanks.Pointed(best);
        int freedom = n - (flanks.LooksForFlat ? 4 : 3);
        double quantile = LeastSquaresLine.StudentQuantile(confidence, freedom);
        double f = quantile * quantile; // of one degree of freedom over the other

        // The interval allows for a flat top in any case; it is reported where it stands out. One narrower than the gap between two readings can't be seen.
        Line shown = (pointed.Squares - line.Squares) * freedom > f * line.Squares + (1e-24 * line.Weight) ? line : pointed;

        // A perfect record has no scatter: rounding stands for it, so that the interval closes about the peak.
        double limit = (line.Squares * (1 + (f / freedom))) + (1e-24 * line.Weight);
        int first = Array.FindIndex(profile, s => s <= limit);
        int last = Array.FindLastIndex(profile, s => s <= limit);
        bool falls = shown.Slope > 0 && shown.Top > 0;
        if (!falls || first == 0 || last == GridPoints - 1)
        {
            return new Shortfall("flanks of the peak within the sweep", falls ? 1 : 0, 2);
        }

        double lower = first < 0 || from + (first * step) >= best ? Edge(flanks, best, from + ((place - 1) * step), limit) : Edge(flanks, from + (first * step), from + ((first - 1) * step), limit);
        double upper = last < 0 || from + (last * step) <= best ? Edge(flanks, best, from + ((place + 1) * step), limit) : Edge(flanks, from + (last * step), from + ((last + 1) * step), limit);
        double width = shown.Top / shown.Slope;
        double span = (x[^1] - x[0]) * (milPerUnit ?? (TrackingTriangle.TrackMil / width));
        if (!Reaches(span))
        {
            return new Shortfall("mil of sweep", span, WantedSpanMil);
        }

        double scatter = Math.Sqrt(line.Squares / freedom) * 20 / Math.Log(10);
        return new TrackingPeakFit(
            best, lower, upper, (upper - lower) / (2 * quantile), flanks.Db(shown.Top), shown.Flat, width, scatter, freedom);
    }

    /// <summary>A tenth less than wanted will do: dials are read by eye.</summary>
    private static bool Reaches(double spanMil) => spanMil >= 0.9 * WantedSpanMil;

    /// <summary>Between a peak that is not excluded and one that is, by halving.</summary>
    private static double Edge(Flanks flanks, double inside, double outside, double limit)
    {
        for (int i = 0; i < 40; i++)
        {
            double middle = (inside + outside) / 2;
            (inside, outside) = flanks.Profile(middle).Squares <= limit ? (middle, outside) : (inside, middle);
        }

        return inside;
    }

    /// <summary>Golden section.</summary>
    private static double Minimum(Func<double, double> of, double low, double high)
    {
        const double Golden = 0.6180339887498949;
        double left = high - (Golden * (high - low));
        double right = low + (Golden * (high - low));
        double atLeft = of(left), atRight = of(right);
        for (int i = 0; i < 45; i++)
        {
            if (atLeft <= atRight)
            {
                (high, right, atRight) = (right, left, atLeft);
                left = high - (Golden * (high - low));
                atLeft = of(left);
            }
            else
            {
                (low, left, atLeft) = (left, right, atRight);
                right = low + (Golden * (high - low));
                atRight = of(right);
            }
        }

        return (low + high) / 2;
    }

    private static void Check(ReadOnlySpan<double> positions, ReadOnlySpan<double> levelsDb, double? milPerUnit)
    {
        Finite.Require(positions);
        Finite.Require(levelsDb);
        if (positions.Length != levelsDb.Length)
        {
            throw new ArgumentException($"As many levels as positions are needed: {positions.Length} positions, {levelsDb.Length} levels.", nameof(levelsDb));
        }

        if (milPerUnit is { } scale && !(scale > 0 && double.IsFinite(scale)))
        {
            throw new ArgumentOutOfRangeException(nameof(milPerUnit), milPerUnit, "A scale is above zero.");
        }
    }

    /// <summary>Two lines of opposite slope with a flat top of half this width; volts as a share of the highest reading.</summary>
    private readonly record struct Line(double Top, double Slope, double Flat, double Squares, double Weight);

    private sealed class Flanks
    {
        private readonly double[] _x;
        private readonly double[] _volts;
        private readonly double _referenceDb;

        public Flanks(double[] x, double[] db, bool looksForFlat)
        {
            (_x, LooksForFlat) = (x, looksForFlat);
            _referenceDb = db.Max();
            _volts = [.. db.Select(level => Math.Pow(10, (level - _referenceDb) / 20))];
        }

        public bool LooksForFlat { get; }

        public double Db(double volts) => _referenceDb + (20 * Math.Log10(volts));

        /// <summary>The best lines without a flat top.</summary>
        public Line Pointed(double peak) => With(peak, 0);

        /// <summary>The best lines for a peak here.</summary>
        public Line Profile(double peak)
        {
            Line best = With(peak, 0);
            if (!LooksForFlat)
            {
                return best;
            }

            // Two points stay on either flank.
            double widest = Math.Min(peak - _x[LeastOnAFlank - 1], _x[^LeastOnAFlank] - peak);
            if (!(widest > 0))
            {
                return best;
            }

            // With the readings on the flat top given, top and flanks are fitted apart and meet at one width; if that puts other readings on the top, the
            // best width for these lies at a reading.
            double[] away = [.. _x.Select(at => Math.Abs(at - peak)).Order()];
            for (int i = 0; i < away.Length && away[i] <= widest; i++)
            {
                double next = i + 1 < away.Length ? Math.Min(away[i + 1], widest) : widest;
                double apart = Apart(peak, away[i]);
                Line atReading = With(peak, away[i]);
                Line between = apart > away[i] && apart < next ? With(peak, apart) : atReading;
                Line better = between.Squares < atReading.Squares ? between : atReading;
                best = better.Squares < best.Squares ? better : best;
            }

            return best;
        }

        /// <summary>The width at which the mean of the readings on the top meets the line through the others.</summary>
        private double Apart(double peak, double flat)
        {
            double topWeight = 0, top = 0, w = 0, wu = 0, wuu = 0, wv = 0, wuv = 0;
            for (int i = 0; i < _x.Length; i++)
            {
                double u = Math.Abs(_x[i] - peak);
                double v = _volts[i];
                double weight = 1 / (v * v);
                if (u <= flat)
                {
                    topWeight += weight;
                    top += weight * v;
                    continue;
                }

                w += weight;
                wu += weight * u;
                wuu += weight * u * u;
                wv += weight * v;
                wuv += weight * u * v;
            }

            double determinant = (w * wuu) - (wu * wu);
            double slope = ((wu * wv) - (w * wuv)) / determinant;
            return (((wv + (slope * wu)) / w) - (top / topWeight)) / slope;
        }

        /// <summary>Weighted least squares of top and slope; an error of so many dB is the same share of any voltage.</summary>
        private Line With(double peak, double flat)
        {
            double w = 0, wu = 0, wuu = 0, wv = 0, wuv = 0;
            for (int i = 0; i < _x.Length; i++)
            {
                double u = Math.Max(0, Math.Abs(_x[i] - peak) - flat);
                double v = _volts[i];
                double weight = 1 / (v * v);
                w += weight;
                wu += weight * u;
                wuu += weight * u * u;
                wv += weight * v;
                wuv += weight * u * v;
            }

            double determinant = (w * wuu) - (wu * wu);
            double slope = determinant > 0 ? ((wu * wv) - (w * wuv)) / determinant : 0;
            double top = (wv + (slope * wu)) / w;
            double squares = 0;
            for (int i = 0; i < _x.Length; i++)
            {
                double residual = 1 - ((top - (slope * Math.Max(0, Math.Abs(_x[i] - peak) - flat))) / _volts[i]);
                squares += residual * residual;
            }

            return new Line(top, slope, flat, squares, _x.Length);
        }
    }
}
