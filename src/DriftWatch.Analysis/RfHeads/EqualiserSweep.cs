using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;
using MathNet.Numerics.Distributions;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>What the level does over the sweep, as far as it stands out of the noise.</summary>
public enum SweepShape
{
    /// <summary>Rises, dips, rises again: what is looked for.</summary>
    Dip,

    /// <summary>Nothing but noise.</summary>
    Level,

    /// <summary>Rises all the way.</summary>
    OnlyRises,

    /// <summary>Falls all the way.</summary>
    OnlyFalls,

    /// <summary>Rises and falls, and the second rise is missing: the dip, if there is one, lies at the upper edge or beyond it.</summary>
    SecondRiseMissing,

    /// <summary>Falls and rises, and the first rise is missing: the dip may lie at the lower edge, and a level that comes from beyond it isn't seen.</summary>
    FirstRiseMissing,

    /// <summary>More than one dip.</summary>
    SeveralDips,

    /// <summary>There is a dip, but not where within the sweep: the readings scatter too much, or are too few about it.</summary>
    DipNotPlaced,
}

/// <summary>The dip of an equaliser sweep. Settings in the sweep's unit, levels in its own.</summary>
/// <param name="Setting">Of the lowest level within the dip.</param>
/// <param name="Lower">Lower limit of it at the confidence asked for.</param>
/// <param name="Upper">Upper limit.</param>
/// <param name="Depth">First top less the bottom, with its uncertainty, in the unit of the level.</param>
/// <param name="TopSetting">Setting of the first top.</param>
public readonly record struct EqualiserDip(double Setting, double Lower, double Upper, Uncertain Depth, double TopSetting);

/// <summary>What a sweep of the master equaliser shows.</summary>
/// <param name="Shape">Rises and falls that stand out of the noise.</param>
/// <param name="Dip">Where the shape is <see cref="SweepShape.Dip"/>; else null.</param>
/// <param name="Parameters">How many parameters the smooth curve through the readings is worth: 4 for a cubic.</param>
/// <param name="Scatter">Of the readings about it, in the unit of the level.</param>
/// <param name="Curve">The curve over the sweep, to be drawn.</param>
public sealed record EqualiserReading(
    SweepShape Shape, EqualiserDip? Dip, double Parameters, double Scatter, IReadOnlyList<(double Setting, double Level)> Curve);

/// <summary>
/// Finds the dip in the level of a master-equaliser sweep. A smoothing spline (<see cref="SmoothCurve"/>) goes through the readings. A rise or
/// fall between two turns counts if it stands out by Scheffé's bound, which allows for having looked for the turns. The dip's interval holds
/// every setting at which a slope of zero isn't excluded by Student's t (Fieller's way of turning a test into an interval).
/// </summary>
public static class EqualiserSweep
{
    /// <summary>Rise, dip, rise and something to spare for the scatter. Source: common practice, no source.</summary>
    public const int LeastPoints = 9;

    private const int GridPoints = 241;
    private const int DrawnPoints = 101;

    /// <param name="settings">Of the master equaliser, in any order.</param>
    /// <param name="levels">As many, in any unit that rises with the level; dB usually.</param>
    /// <param name="confidence">Of the interval, two-sided, and of every rise and fall.</param>
    /// <returns>A shortfall with fewer than 9 readings or different settings; a sweep without a dip is an answer.</returns>
    /// <exception cref="ArgumentException">Lengths differ, or a number is not finite.</exception>
    public static Answer<EqualiserReading> Read(ReadOnlySpan<double> settings, ReadOnlySpan<double> levels, double confidence = 0.95)
    {
        Finite.Require(settings);
        Finite.Require(levels);
        Points.CheckConfidence(confidence);
        if (settings.Length != levels.Length)
        {
            throw new ArgumentException($"As many levels as settings are needed: {settings.Length} settings, {levels.Length} levels.", nameof(levels));
        }

        int distinct = settings.ToArray().Distinct().Count();
        if (distinct < LeastPoints)
        {
            return new Shortfall("different settings", distinct, LeastPoints);
        }

        SmoothCurve curve = SmoothCurve.Through(settings, levels);
        var swings = new Swings(curve, confidence);
        List<double> turns = swings.Significant();
        (SweepShape shape, int dipAt) = Name(swings, turns);
        if (shape != SweepShape.Dip)
        {
            return new EqualiserReading(shape, null, curve.EffectiveParameters, curve.Scatter, Drawn(curve));
        }

        EqualiserDip? dip = swings.Place(turns[dipAt - 1], turns[dipAt], turns[dipAt + 1]);
        return new EqualiserReading(dip is null ? SweepShape.DipNotPlaced : shape, dip, curve.EffectiveParameters, curve.Scatter, Drawn(curve));
    }

    private static IReadOnlyList<(double Setting, double Level)> Drawn(SmoothCurve curve)
    {
        double step = (curve.Greatest - curve.Least) / (DrawnPoints - 1);
        return [.. Enumerable.Range(0, DrawnPoints).Select(i => curve.Least + (i * step)).Select(x => (x, curve.At(x)))];
    }

    private static (SweepShape Shape, int DipAt) Name(Swings swings, List<double> turns)
    {
        int dips = 0;
        int dipAt = 0;
        for (int i = 2; i + 1 < turns.Count; i++)
        {
            if (swings.At(turns[i]) < swings.At(turns[i - 1]))
            {
                dips++;
                dipAt = i;
            }
        }

        bool rises = turns.Count > 1 && swings.At(turns[1]) > swings.At(turns[0]);
        SweepShape shape = (turns.Count, rises) switch
        {
            (<= 1, _) => SweepShape.Level,
            (2, true) => SweepShape.OnlyRises,
            (2, false) => SweepShape.OnlyFalls,
            _ when dips > 1 => SweepShape.SeveralDips,
            _ when dips == 1 => SweepShape.Dip,
            (_, true) => SweepShape.SecondRiseMissing,
            _ => SweepShape.FirstRiseMissing,
        };
        return (shape, dipAt);
    }

    /// <summary>Rises and falls of the fitted curve with their errors.</summary>
    private sealed class Swings
    {
        private readonly SmoothCurve _curve;
        private readonly double _step;
        private readonly double _scheffe;
        private readonly double _student;

        public Swings(SmoothCurve curve, double confidence)
        {
            _curve = curve;
            _step = (curve.Greatest - curve.Least) / (GridPoints - 1);
            double looked = Math.Max(1, curve.EffectiveParameters - 1);
            _scheffe = Math.Sqrt(looked * FisherSnedecor.InvCDF(looked, curve.Freedom, confidence));
            _student = Coverage.Factor(curve.Freedom, confidence);
        }

        public double At(double x) => _curve.At(x);

        /// <summary>Both ends and the turns between them, without those whose rise or fall is lost in the noise; one place if all is.</summary>
        public List<double> Significant()
        {
            double[] grid = [.. Enumerable.Range(0, GridPoints).Select(i => _curve.Least + (i * _step))];
            double[] level = [.. grid.Select(At)];
            var turns = new List<double> { grid[0] };
            for (int i = 1; i < GridPoints - 1; i++)
            {
                if ((level[i] - level[i - 1]) * (level[i + 1] - level[i]) <= 0)
                {
                    turns.Add(grid[i]);
                }
            }

            turns.Add(grid[^1]);
            while (turns.Count > 1 && Weakest(turns) is { } weak)
            {
                // The small swing goes with both its ends, unless one of them is the sweep's own end.
                if (weak == 0 || weak == turns.Count - 2)
                {
                    turns.RemoveAt(weak == 0 ? (turns.Count == 2 ? 1 : 0) : turns.Count - 1);
                }
                else
                {
                    turns.RemoveRange(weak, 2);
                }
            }

            return turns;
        }

        /// <summary>The dip with its interval; null where a slope of zero isn't excluded before the tops on both sides.</summary>
        public EqualiserDip? Place(double top, double near, double next)
        {
            double dip = Zero(Math.Max(top, near - _step), Math.Min(next, near + _step));
            if (Edge(dip, top) is not { } lower || Edge(dip, next) is not { } upper)
            {
                return null;
            }

            (double swing, double error) = _curve.Rise(dip, top);
            return new EqualiserDip(dip, lower, upper, new Uncertain(swing, error, _curve.Freedom), top);
        }

        private int? Weakest(List<double> turns)
        {
            int? weakest = null;
            double least = _scheffe;
            for (int i = 0; i + 1 < turns.Count; i++)
            {
                (double swing, double error) = _curve.Rise(turns[i], turns[i + 1]);
                double size = error > 0 ? Math.Abs(swing) / error : swing == 0 ? 0 : double.PositiveInfinity;
                if (size < least)
                {
                    (weakest, least) = (i, size);
                }
            }

            return weakest;
        }

        private double Zero(double low, double high)
        {
            for (int i = 0; i < 60; i++)
            {
                double middle = (low + high) / 2;
                (low, high) = _curve.Slope(middle).Value < 0 ? (middle, high) : (low, middle);
            }

            return (low + high) / 2;
        }

        /// <summary>The first setting on the way from the dip to a top at which a slope of zero is excluded.</summary>
        private double? Edge(double dip, double top)
        {
            double stride = Math.Sign(top - dip) * _step / 4;
            for (double x = dip + stride; Math.Abs(x - dip) < Math.Abs(top - dip); x += stride)
            {
                if (IsExcluded(x))
                {
                    double inside = x - stride;
                    double outside = x;
                    for (int i = 0; i < 40; i++)
                    {
                        double middle = (inside + outside) / 2;
                        (inside, outside) = IsExcluded(middle) ? (inside, middle) : (middle, outside);
                    }

                    return inside;
                }
            }

            return null;
        }

        private bool IsExcluded(double x)
        {
            (double slope, double error) = _curve.Slope(x);
            return Math.Abs(slope) > _student * error;
        }
    }
}
