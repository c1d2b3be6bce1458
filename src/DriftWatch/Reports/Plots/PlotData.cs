using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Reports.Plots;

/// <summary>What a plot shows: traces of some channels over one span, the clock, and the findings that touch it.</summary>
internal sealed class PlotData
{
    private PlotData(BenchDefinition bench, IReadOnlyList<Trace> traces, AnchorTable anchors, long from, long to)
    {
        (Bench, Traces, Anchors, From, To) = (bench, traces, anchors, from, to);
    }

    public BenchDefinition Bench { get; }

    public IReadOnlyList<Trace> Traces { get; }

    public AnchorTable Anchors { get; }

    /// <summary>Engine nanoseconds of the span's ends.</summary>
    public long From { get; }

    public long To { get; }

    /// <summary>
    /// The last word on each finding that touches the span and concerns a channel shown or, from an advisory up, the
    /// whole bench; by start.
    /// </summary>
    public IReadOnlyList<FindingLine> Findings { get; private init; } = [];

    /// <summary>Steps of the wall clock inside the span.</summary>
    public IReadOnlyList<(long At, long StepNanoseconds)> Steps { get; private init; } = [];

    /// <summary>The span that this one is held against; null: none.</summary>
    public PlotData? Other { get; private init; }

    /// <summary>Baselines that are drawn, by the id of a trace.</summary>
    public IReadOnlyDictionary<string, double> Baselines { get; private init; } = new Dictionary<string, double>();

    /// <summary>Reads a feed once.</summary>
    /// <returns>Null when no reading lies in the span.</returns>
    public static PlotData? Read(
        IInputSource feed,
        BenchDefinition bench,
        IReadOnlyList<ChannelDefinition> channels,
        long? fromUtc,
        long? toUtc,
        IEnumerable<FindingLine> findings,
        IProgress<double>? progress,
        CancellationToken cancel)
    {
        var values = new EngineeringValues(channels);
        var traces = channels.Select(c => new Trace(c)).ToList();
        var byKey = new Dictionary<int, Trace>();
        var steps = new List<(long, long)>();
        long first = long.MaxValue;
        long last = long.MinValue;
        long count = 0;
        while (feed.TryRead(out EngineInput input))
        {
            if ((++count & 0xffff) == 0)
            {
                cancel.ThrowIfCancellationRequested();
                progress?.Report(feed.Progress);
            }

            values.Follow(input);
            if (input.Kind == InputKind.Bench)
            {
                MatchKeys(input.Bench, traces, byKey);
            }
            else if (input.Kind == InputKind.Clock && input.ClockEvent.Kind == ClockEventKind.WallStep)
            {
                steps.Add((input.Time.Nanoseconds, input.ClockEvent.StepNanoseconds));
            }
            else if (input.Kind is InputKind.Sample or InputKind.Fault or InputKind.Frame && byKey.TryGetValue(input.Channel, out Trace? trace)
                && IsInside(values.UtcOf(input.Time), fromUtc, toUtc))
            {
                Take(input, trace, values);
                first = Math.Min(first, input.Time.Nanoseconds);
                last = Math.Max(last, input.Time.Nanoseconds);
            }
        }

        if (first > last)
        {
            return null;
        }

        long from = fromUtc is { } f ? Math.Min(first, values.Anchors.FromUtcNanoseconds(f).Nanoseconds) : first;
        long to = toUtc is { } t ? Math.Max(last, values.Anchors.FromUtcNanoseconds(t).Nanoseconds) : last;
        to = Math.Max(to, from + EngineTime.NanosecondsPerSecond);
        return new PlotData(bench, traces, values.Anchors, from, to)
        {
            Findings = Touching(from, to, findings, traces),
            Steps = [.. steps.Where(s => s.Item1 >= from && s.Item1 <= to)],
        };
    }

    /// <summary>Of columns that were read before, for spans whose every reading would take long: least, greatest, mean and faults of each are drawn.</summary>
    /// <param name="bench">Whose they are.</param>
    /// <param name="channels">In the order of <paramref name="columns"/>.</param>
    /// <param name="columns">Of each channel, in order of time, all on <paramref name="grid"/>.</param>
    /// <param name="grid">Where they lie.</param>
    /// <param name="anchors">Engine time to UTC over the span.</param>
    /// <param name="findings">Lines; the last word on those that touch the span is shown.</param>
    public static PlotData Of(
        BenchDefinition bench, IReadOnlyList<ChannelDefinition> channels, IReadOnlyList<IReadOnlyList<Bucket>> columns, SpanGrid grid,
        AnchorTable anchors, IEnumerable<FindingLine> findings)
    {
        List<Trace> traces = [.. channels.Select((c, i) => TraceOf(c, columns[i], grid))];
        long from = grid.From.Nanoseconds;
        long to = grid.To.Nanoseconds;
        return new PlotData(bench, traces, anchors, from, to) { Findings = Touching(from, to, findings, traces) };
    }

    /// <summary>The same with more beside it.</summary>
    /// <param name="more">Traces that go beneath the channels.</param>
    /// <param name="other">Another span, as long, that this one is held against: its traces are drawn over those of the same id.</param>
    /// <param name="baselines">Baselines to draw, by the id of a trace, in its unit: limits that refer to one are drawn with it.</param>
    /// <param name="findings">Lines; the last word on those that touch the span is shown.</param>
    public PlotData With(IReadOnlyList<Trace> more, PlotData? other, IReadOnlyDictionary<string, double> baselines, IEnumerable<FindingLine> findings)
    {
        List<Trace> traces = [.. Traces, .. more];
        return new PlotData(Bench, traces, Anchors, From, To) { Findings = Touching(From, To, findings, traces), Steps = Steps, Other = other, Baselines = baselines };
    }

    /// <summary>A trace of columns that were read before.</summary>
    public static Trace TraceOf(ChannelDefinition channel, IReadOnlyList<Bucket> columns, SpanGrid grid)
    {
        var trace = new Trace(channel, grid.Width);
        foreach (Bucket column in columns)
        {
            if (column.Count > 0)
            {
                trace.Add(column.From.Nanoseconds, column.Mean, column.Minimum, column.Maximum, column.Count);
            }

            if (column.Faults > 0)
            {
                trace.AddFault(column.From.Nanoseconds, column.Faults, grid.Width);
            }
        }

        return trace;
    }

    private static IReadOnlyList<FindingLine> Touching(long from, long to, IEnumerable<FindingLine> findings, List<Trace> traces) =>
    [
        .. findings.GroupBy(l => l.Id, StringComparer.Ordinal).Select(g => UnderItsName(LastWord(g), traces))
            .Where(l => l.Start.Nanoseconds <= to && (l.End?.Nanoseconds ?? long.MaxValue) >= from)
            .Where(l => l.Channel is null ? l.Severity >= Severity.Advisory : traces.Any(t => t.Channel.Id == l.Channel))
            .OrderBy(l => l.Start.Nanoseconds),
    ];

    /// <summary>
    /// The newest line with the severity that it once had and in the words of that: an alarm that eased to an advisory when the wheel
    /// stood was an alarm all the same, and "is back" tells nothing beside a span.
    /// </summary>
    public static FindingLine LastWord(IEnumerable<FindingLine> lines)
    {
        List<FindingLine> all = [.. lines];
        FindingLine worst = all.Where(l => l.Phase != FindingPhase.Ended).OrderBy(l => l.Severity).LastOrDefault() ?? all[^1];
        return all[^1] with { Severity = worst.Severity, Text = worst.Text };
    }

    /// <summary>What was found of a channel before it was renamed belongs into its panel.</summary>
    private static FindingLine UnderItsName(FindingLine line, List<Trace> traces) =>
        line.Channel is { } former && !traces.Exists(t => t.Channel.Id == former)
            && traces.Find(t => t.Channel.Aliases.Contains(former)) is { } renamed
            ? line with { Channel = renamed.Channel.Id }
            : line;

    private static bool IsInside(long utc, long? from, long? to) => (from is null || utc >= from) && (to is null || utc < to);

    private static void MatchKeys(BenchDefinition bench, List<Trace> traces, Dictionary<int, Trace> byKey)
    {
        byKey.Clear();
        foreach (Trace trace in traces)
        {
            byKey[EngineeringValues.KeyOf(trace.Channel, bench)] = trace;
        }
    }

    private static void Take(in EngineInput input, Trace trace, EngineeringValues values)
    {
        if (input.Kind == InputKind.Frame)
        {
            double minimum = double.PositiveInfinity;
            double maximum = double.NegativeInfinity;
            double sum = 0;
            foreach (double raw in input.Frame.Values)
            {
                double point = values.Convert(input.Channel, raw);
                minimum = Math.Min(minimum, point);
                maximum = Math.Max(maximum, point);
                sum += point;
            }

            if (input.Frame.Count > 0 && double.IsFinite(sum))
            {
                trace.Add(input.Time.Nanoseconds, sum / input.Frame.Count, minimum, maximum);
            }
        }
        else if (values.TryConvert(input.Channel, input.Reading, out double value, out double least, out double greatest))
        {
            trace.Add(input.Time.Nanoseconds, value, least, greatest);
        }
        else
        {
            trace.AddFault(input.Time.Nanoseconds);
        }
    }
}
