using DriftWatch.Analysis;
using DriftWatch.Analysis.Trend;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Plots;

namespace DriftWatch.Reports.Dossiers;

/// <summary>Takes the readings of one channel or quantity in the order of the log and sums up those of the run.</summary>
internal sealed class SummaryBuilder(ChannelDefinition channel, bool isDerived)
{
    /// <summary>A single reading beyond a limit is no use of the tolerance: limits have delays of seconds. Source: our own choice, the order of those delays.</summary>
    private const long MeanOver = 10 * EngineTime.NanosecondsPerSecond;

    private readonly List<(long Index, double Sum, int Count)> _means = [];
    private readonly Trace _trace = new(channel);
    private long _count;
    private long _faults;
    private double _sum;
    private double _least = double.PositiveInfinity;
    private double _greatest = double.NegativeInfinity;

    public ChannelDefinition Channel => channel;

    /// <summary>A derived quantity in the dress of a channel, so that it is summed up and drawn like one.</summary>
    public static SummaryBuilder Of(QuantityDefinition quantity, TimeSpan every) => new(quantity.AsChannel(every), isDerived: true);

    public void Add(EngineTime time, double value, double minimum, double maximum, bool inRun)
    {
        _trace.Add(time.Nanoseconds, value, minimum, maximum);
        if (!inRun)
        {
            return;
        }

        _count++;
        _sum += value;
        _least = Math.Min(_least, minimum);
        _greatest = Math.Max(_greatest, maximum);
        long index = time.Nanoseconds / MeanOver;
        if (_means.Count > 0 && _means[^1].Index == index)
        {
            _means[^1] = (index, _means[^1].Sum + value, _means[^1].Count + 1);
        }
        else
        {
            _means.Add((index, value, 1));
        }
    }

    public void AddFault(EngineTime time, bool inRun)
    {
        _trace.AddFault(time.Nanoseconds);
        _faults += inRun ? 1 : 0;
    }

    /// <param name="runSeconds">Length of the run.</param>
    /// <param name="baseline">Of the tape, in the channel's unit; null where there is none.</param>
    public ChannelSummary Finish(double runSeconds, BaselineValue? baseline)
    {
        double due = runSeconds / channel.Period.TotalSeconds;
        double[] values = [.. _means.Select(m => m.Sum / m.Count)];
        double? mean = _count == 0 ? null : _sum / _count;
        return new ChannelSummary(
            channel, isDerived, _count, _faults, isDerived || due < 1 ? null : Math.Min(1, _count / due),
            _count == 0 ? null : _least, mean, _count == 0 ? null : _greatest,
            baseline, mean is { } known ? UseOf(values, baseline?.Value, known) : null, TrendOf(values), _trace);
    }

    private ToleranceUse? UseOf(double[] values, double? baseline, double mean)
    {
        (string word, double from) = baseline is { } b ? ("baseline", b) : channel.Setpoint is { } s ? ("setpoint", s) : ("mean", mean);
        ToleranceUse? worst = null;
        foreach (LimitDefinition limit in channel.Limits)
        {
            double extreme = limit.Side == LimitSide.Low ? values.Min() : values.Max();
            if (limit.At(baseline) is not { } at || (limit.Side == LimitSide.Low ? at >= from : at <= from))
            {
                continue; // what it is counted from lies beyond the limit itself: no share can be told
            }

            var use = new ToleranceUse((extreme - from) / (at - from), at, limit.Side, limit.Severity, word);
            worst = worst is null || IsWorse(use, worst) ? use : worst;
        }

        return worst;
    }

    /// <summary>A passed limit before one that was not, of passed ones the graver.</summary>
    private static bool IsWorse(ToleranceUse one, ToleranceUse other) =>
        (one.Share >= 1, one.Share >= 1 ? (int)one.Severity : 0, one.Share).CompareTo((other.Share >= 1, other.Share >= 1 ? (int)other.Severity : 0, other.Share)) > 0;

    private ChannelTrend? TrendOf(double[] values)
    {
        if (values.Length == 0 || !values.AsSpan().ContainsAnyExcept(values[0]))
        {
            return null;
        }

        double[] hours = [.. _means.Select(m => (m.Index - _means[0].Index) * (MeanOver / 3.6e12))];
        Answer<DriftEstimate> answer = Drift.Estimate(hours, values);
        return answer.IsKnown
            ? new ChannelTrend(answer.Value.Slope, answer.Value.Lower, answer.Value.Upper, answer.Value.IsClaimed)
            : null;
    }
}
