using System.Collections;
using System.Reflection;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Change;
using DriftWatch.Analysis.ControlCharts;
using DriftWatch.Analysis.Events;
using DriftWatch.Analysis.Forecast;
using DriftWatch.Analysis.Relations;
using DriftWatch.Analysis.Stability;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Analysis.Trend;
using DriftWatch.Tests.Analysis.Statistics;

namespace DriftWatch.Tests.Analysis;

/// <summary>
/// Every method of a record against every kind of bad record: a constant, ties nearly everywhere, one point, none (all were faults), a
/// signal of a thousandth on 1e9, times that don't rise. What the right answers are stands in the methods' own tests; here no
/// method may be left out, throw where data are at fault, or answer with what is no number.
/// </summary>
public class BadInputTests
{
    private const int Size = 240;

    /// <summary>Methods of values in their order.</summary>
    private static readonly Dictionary<string, Func<double[], double[], object>> OfValues = new()
    {
        ["Moments"] = (_, y) => Moments.Of(y),
        ["RobustScale.Median"] = (_, y) => RobustScale.Median(y),
        ["RobustScale.Mad"] = (_, y) => RobustScale.Mad(y),
        ["RobustScale.Qn"] = (_, y) => RobustScale.Qn(y),
        ["RobustScale.Sn"] = (_, y) => RobustScale.Sn(y),
        ["QuantileSketch"] = (_, y) => Fed(new QuantileSketch(), y, (s, v) => s.Add(v)).Quantile(0.5),
        ["WindowedMedian"] = (_, y) => Fed(new WindowedMedian(31), y, (s, v) => s.Add(v)),
        ["WindowedExtremes"] = (_, y) => Fed(new WindowedExtremes(31), y, (s, v) => s.Add(v)),
        ["StreamingAutocorrelation"] = (_, y) => Fed(new StreamingAutocorrelation(1), y, (s, v) => s.Add(v)).At(0),
        ["Autocorrelation.UpTo"] = (_, y) => Autocorrelation.UpTo(y, 3),
        ["Autocorrelation.EffectiveSampleSize"] = (_, y) => Autocorrelation.EffectiveSampleSize(y),
        ["Autocorrelation.FirstOrder"] = (_, y) => Autocorrelation.FirstOrder(y),
        ["Autocorrelation.RobustFirstOrder"] = (_, y) => Autocorrelation.RobustFirstOrder(y),
        ["Autocorrelation.RobustAtLag"] = (_, y) => Autocorrelation.RobustAtLag(y, 2),
        ["SerialMean"] = (_, y) => SerialMean.Estimate(y),
        ["AllanDeviation.Plain"] = (_, y) => AllanDeviation.Plain(y, 2),
        ["AllanDeviation.Overlapping"] = (_, y) => AllanDeviation.Overlapping(y, 2),
        ["AllanDeviation.Modified"] = (_, y) => AllanDeviation.Modified(y, 2),
        ["AllanDeviation.Time"] = (_, y) => AllanDeviation.Time(y, 2),
        ["AllanDeviation.Hadamard"] = (_, y) => AllanDeviation.Hadamard(y, 2),
        ["AllanDeviation.OverlappingHadamard"] = (_, y) => AllanDeviation.OverlappingHadamard(y, 2),
        ["AllanPoints"] = (_, y) => AllanPoints.Octaves(y, 1),
        ["StreamingAllan"] = (_, y) => Fed(new StreamingAllan(4), y, (s, v) => s.Add(v)).At(1),
        ["NoiseIdentification"] = (_, y) => NoiseIdentification.Of(y, 2),
        ["WhiteOrRed"] = (_, y) => WhiteOrRed.Classify(y, 1),
        ["MannKendall"] = (_, y) => MannKendall.Test(y),
        ["HamedRao"] = (_, y) => HamedRao.Test(y),
        ["SeasonalMannKendall"] = (_, y) => SeasonalMannKendall.Test(y, 4),
        ["IndividualsLimits"] = (_, y) => IndividualsLimits.From(y),
        ["Segmentation.OfLevel"] = (_, y) => Segmentation.OfLevel(y, 1e-3, 15),
        ["Segmentation.OfLevelAndNoise"] = (_, y) => Segmentation.OfLevelAndNoise(y, 1e-6, 15),
        ["RegimeFinder"] = (_, y) => RegimeFinder.Find(y),
        ["StepFinder"] = (_, y) => StepFinder.Find(y),
        ["Pettitt"] = (_, y) => Pettitt.Test(y),
        ["SpikeFilter"] = (_, y) => SpikeFilter.Kept(y),

        // A cut that leaves no two values on a side is the caller's to keep away.
        ["BaiInterval"] = (_, y) => y.Length < 4 ? (Answer<(int From, int To)>)new Shortfall("points", y.Length, 4) : BaiInterval.Of(y, y.Length / 2),
        ["CusumChart"] = (_, y) => Charted(y, room => CusumChart.Run(ChartDesigner.Cusum(1, 370.4), 1, 0.5, y, room, new double[y.Length])),
        ["EwmaChart"] = (_, y) => Charted(y, room => EwmaChart.Run(ChartDesigner.Ewma(1, 370.4), 1, 0.5, y, room)),
        ["IndividualsChart"] = (_, y) => IndividualsChart.Run(IndividualsLimits.Known(1, 0.5, ChartDesigner.Individuals(370.4)), y).Cast<object>().ToArray(),
        ["Ar1Whitener"] = (_, y) => Charted(y, room => Whiten(y, room)),
    };

    /// <summary>Methods of times and values that take any order of times, or stream them.</summary>
    private static readonly Dictionary<string, Func<double[], double[], object>> OfPairs = new()
    {
        ["TheilSen"] = (t, y) => TheilSen.Fit(t, y),
        ["RepeatedMedians"] = (t, y) => RepeatedMedians.Fit(t, y),
        ["LeastSquaresLine"] = (t, y) => LeastSquaresLine.Fit(t, y),
        ["RobustLine, Huber"] = (t, y) => RobustLine.Fit(t, y, RobustMethod.Huber),
        ["RobustLine, MM"] = (t, y) => RobustLine.Fit(t, y, RobustMethod.Mm),
        ["RecursiveLine"] = (t, y) => Fed(new RecursiveLine(0.99), t.Zip(y), (s, p) => s.Add(p.First, p.Second, out _)),
        ["CrossCorrelation"] = (t, y) => CrossCorrelation.UpTo(t, y, 3),
        ["CrossCorrelation.IndependenceError"] = (t, y) => CrossCorrelation.IndependenceError(t, y),
        ["CurveFit.LeastSquares"] = (t, y) => CurveFit.LeastSquares(t, y, 2),
        ["CurveFit.Weighted"] = (t, y) => CurveFit.Weighted(t, y, Ones(t)),
        ["CurveFit.BothUncertain"] = (t, y) => CurveFit.BothUncertain(t, Ones(t), y, Ones(t)),
        ["LogDetector"] = (t, y) => LogDetector.Fit(t, y),
        ["NonlinearLeastSquares"] = (t, y) => NonlinearLeastSquares.Fit((b, x) => b[0] + (b[1] * Math.Exp(-x / 50)), t, y, [y.FirstOrDefault(), 0.5]),

        ["LineForecast"] = (t, y) => LeastSquaresLine.Fit(t, y) is { IsKnown: true, Value: var line } ? (object)LineForecast.At(line, 500) : LeastSquaresLine.Fit(t, y),

        // A run that does not go its way is named by the run, see UncertaintyTests.
        ["Hysteresis"] = (t, y) => Hysteresis.Of(t, y, [.. t.Reverse()], [.. y.Reverse().Select((v, i) => v + (1e-3 * (i % 3)))]),
        ["CalibrationDrift"] = (t, y) => CurveFit.LeastSquares(t, y, 1) is { IsKnown: true, Value: var older }
            ? (object)CalibrationDrift.Worst(older, CurveFit.LeastSquares(t, [.. y.Reverse()], 1).Value, 1)
            : CurveFit.LeastSquares(t, y, 1),

        // As the judge of drifts asks it: the rise of the line over the deviation about it, which is nothing where nothing varies.
        ["RandomWalkSlope"] = (t, y) => LeastSquaresLine.Fit(t, y) is { IsKnown: true, Value: var line }
            ? (object)RandomWalkSlope.Significance(line.ResidualDeviation > 0 ? y.Length * Math.Abs(line.Slope) / line.ResidualDeviation : 0)
            : LeastSquaresLine.Fit(t, y),
    };

    /// <summary>Methods that need times that rise.</summary>
    private static readonly Dictionary<string, Func<double[], double[], object>> InTime = new()
    {
        ["LeastSquaresLine.NeweyWestErrors"] = (t, y) => LeastSquaresLine.NeweyWestErrors(t, y),
        ["AutoregressiveLine, Prais-Winsten"] = (t, y) => AutoregressiveLine.Fit(t, y, AutoregressiveMethod.PraisWinsten),
        ["AutoregressiveLine, restricted"] = (t, y) => AutoregressiveLine.Fit(t, y),
        ["Drift"] = (t, y) => Drift.Estimate(t, y),
        ["TimeToLimit"] = (t, y) => TimeToLimit.Of(t, y, 2e9, LimitSide.Above, 1000),
        ["FirstReading"] = (t, y) => Drift.Estimate(t, y) is { IsKnown: true, Value: var drift }
            ? (object)FirstReading.Of(drift, 2e9, LimitSide.Above, t[^1], 1000)
            : Drift.Estimate(t, y),
        ["WindowSlope"] = (t, y) => Fed(new WindowSlope(50), t.Zip(y), (s, p) => s.Add(p.First, p.Second)),
        ["FadingSlope"] = (t, y) => Fed(new FadingSlope(50), t.Zip(y), (s, p) => s.Add(p.First, p.Second)),
        ["BlockMediansSlope"] = (t, y) => Fed(new BlockMediansSlope(5, 10), t.Zip(y), (s, p) => s.Add(p.First, p.Second)),
        ["Excursions"] = (t, y) => Excursions.Find(t, y, new ExcursionRule(ExcursionSide.Above, 1e9, 9e8)),
        ["TimeConstant"] = (t, y) => TimeConstant.Fit(t, y),
        ["LombScargle.Generalised"] = (t, y) => LombScargle.Generalised(t, y, FrequencyGrid.Between(4, 40, Size)),
        ["LombScargle.Classic"] = (t, y) => LombScargle.Classic(t, y, FrequencyGrid.Between(4, 40, Size), normalised: true),
        ["FalseAlarm.ByShuffling"] = (t, y) => FalseAlarm.ByShuffling(t, y, FrequencyGrid.Between(4, 40, Size), 3, new Random(1)),
        ["ExcursionDetector"] = (t, y) => Detected(t, y),
        ["PeriodFinder"] = (t, y) => PeriodFinder.Find(t, y, 4, 60),
        ["Sawtooth"] = (t, y) => Sawtooth.Fit(t, y, 20),
        ["KnownCause"] = (t, y) => KnownCause.Fit(t, [.. y.Select((v, i) => v + (i % 7))], y),
        ["LeadLag"] = (t, y) => LeadLag.Find(t, y, t, [.. y.Reverse()], 1, 10),
    };

    public static TheoryData<string> Every => [.. OfValues.Keys.Concat(OfPairs.Keys).Concat(InTime.Keys)];

    public static TheoryData<string> NeedingOrder => [.. InTime.Keys];

    [Theory]
    [MemberData(nameof(Every))]
    public void No_bad_record_throws_or_is_answered_with_what_is_no_number(string method)
    {
        double[] signal = [.. Series.Lehmer(Size).Select(v => 1e-3 * v)];
        (string Name, double[] Values)[] records =
        [
            ("constant", [.. Enumerable.Repeat(7.25, Size)]),
            ("constant, huge", [.. Enumerable.Repeat(1e9, Size)]),
            ("ties", [.. signal.Select((_, i) => i % 60 == 7 ? 2.0 : 1.0)]),
            ("two levels", [.. signal.Select((_, i) => i < Size / 2 ? 1.0 : 2.0)]),
            ("one point", [3]),
            ("two points", [3, 4]),
            ("nothing but faults", []),
            ("huge offset", [.. signal.Select(v => 1e9 + v)]),
        ];
        foreach ((string name, double[] values) in records)
        {
            Proper(Run(method, Times(values.Length), values), $"{method} of {name}", 0);
        }
    }

    [Theory]
    [MemberData(nameof(Every))]
    public void One_point_and_none_are_a_shortfall_where_there_is_an_answer_to_miss(string method)
    {
        foreach (double[] values in (double[][])[[3], []])
        {
            object answer = Run(method, Times(values.Length), values);
            if (answer.GetType().Name == "Answer`1" && !(values.Length == 1 && AnswersOnePoint.Contains(method)))
            {
                Shortfall? missing = (Shortfall?)answer.GetType().GetProperty("Missing")!.GetValue(answer);
                Assert.True(missing is not null, $"{method} answered {values.Length} points with {answer}");
                Assert.True(missing!.Has < missing.Needs, missing.ToString());
            }
        }
    }

    [Theory]
    [MemberData(nameof(Every))]
    public void An_offset_of_a_thousand_million_takes_no_answer_away(string method)
    {
        // Of a signal of a thousandth four digits are left on 1e9.
        double[] signal = [.. Series.Lehmer(Size).Select(v => Math.Round(1e-3 * v * (1 << 22)) / (1 << 22))];
        string plain = Known(Run(method, Times(Size), signal));
        Assert.Equal(plain, Known(Run(method, Times(Size), [.. signal.Select(v => 1e9 + v)])));
    }

    [Theory]
    [MemberData(nameof(NeedingOrder))]
    public void Times_that_do_not_rise_are_the_callers_error_and_named(string method)
    {
        double[] values = Series.Lehmer(Size);
        double[] times = Times(Size);
        (times[100], times[101]) = (times[101], times[100]);
        string? name = Assert.ThrowsAny<ArgumentException>(() => Run(method, times, values)).ParamName;
        Assert.Contains("time", name, StringComparison.OrdinalIgnoreCase);
    }

    /// <summary>A median, and a level of known noise, are answers of one point too.</summary>
    private static readonly string[] AnswersOnePoint = ["RobustScale.Median", "QuantileSketch", "Segmentation.OfLevel"];

    private static object Run(string method, double[] times, double[] values) =>
        (OfValues.GetValueOrDefault(method) ?? OfPairs.GetValueOrDefault(method) ?? InTime[method])(times, values);

    private static double[] Times(int count) => [.. Enumerable.Range(0, count).Select(i => (double)i)];

    private static double[] Ones(double[] like) => [.. like.Select(_ => 1.0)];

    private static TStream Fed<TStream, TItem>(TStream stream, IEnumerable<TItem> items, Action<TStream, TItem> add)
    {
        foreach (TItem item in items)
        {
            add(stream, item);
        }

        return stream;
    }

    private static (int Signal, double[] Course) Charted(double[] values, Func<double[], int> run)
    {
        double[] room = new double[values.Length];
        return (run(room), room);
    }

    private static int Whiten(double[] values, double[] room)
    {
        Ar1Whitener.Run(1, 0.5, 0.7, values, room);
        return -1;
    }

    private static Excursion[] Detected(double[] times, double[] values)
    {
        var detector = new ExcursionDetector(new ExcursionRule(ExcursionSide.Above, 1e9, 9e8));
        var told = new List<Excursion>();
        foreach ((double time, double value) in times.Zip(values))
        {
            if (detector.Add(time, value, out Excursion one))
            {
                told.Add(one);
            }
        }

        return [.. told];
    }

    private static string Known(object answer) =>
        answer.GetType().Name == "Answer`1" && answer.GetType().GetProperty("Missing")!.GetValue(answer) is Shortfall missing ? $"no {missing.What}" : "answered";

    /// <summary>Every number in an answer, in what it holds and in what that holds.</summary>
    private static void Proper(object? answer, string where, int depth)
    {
        switch (answer)
        {
            case null or string or Shortfall or Delegate:
                return;
            case double number:
                Assert.False(double.IsNaN(number), $"{where} is no number");
                return;
            case IEnumerable several:
                foreach (object? one in several)
                {
                    Proper(one, $"{where}[]", depth + 1);
                }

                return;
        }

        Type type = answer.GetType();
        bool known = type.Name != "Answer`1" || (bool)type.GetProperty("IsKnown")!.GetValue(answer)!;
        if (!known || depth > 4 || type.IsPrimitive || type.IsEnum)
        {
            return;
        }

        foreach (FieldInfo field in type.GetFields(BindingFlags.Public | BindingFlags.Instance))
        {
            Proper(field.GetValue(answer), $"{where}: {field.Name}", depth + 1);
        }

        foreach (PropertyInfo property in type.GetProperties(BindingFlags.Public | BindingFlags.Instance))
        {
            if (property.GetIndexParameters().Length == 0 && !property.PropertyType.IsByRefLike)
            {
                Proper(property.GetValue(answer), $"{where}: {property.Name}", depth + 1);
            }
        }
    }
}
