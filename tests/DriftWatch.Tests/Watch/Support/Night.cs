using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch;

namespace DriftWatch.Tests.Watch.Support;

/// <summary>
/// Writes a log by hand: what happens at which second of engine time, in any order. <see cref="Inputs"/> puts it into
/// the order of judging, adds the ticks and numbers it, as the merge does.
/// </summary>
internal sealed class Night
{
    /// <summary>2026-03-01T00:00:00Z at engine time zero.</summary>
    public const long Midnight = 1_772_323_200_000_000_000;

    private readonly List<EngineInput> _inputs = [];
    private double _until;

    public Night(BenchDefinition bench, double startsAt = 0)
    {
        At(startsAt, EngineInput.OfClock(default, new ClockEvent(ClockEventKind.Started, Anchor(startsAt))));
        At(startsAt, EngineInput.OfBench(default, bench));
    }

    public static TimeAnchor Anchor(double at, double ahead = 0) =>
        new(EngineTime.FromSeconds(at), Midnight + EngineTime.FromSeconds(at + ahead).Nanoseconds);

    public Night At(double seconds, EngineInput input)
    {
        _inputs.Add(input with { Time = EngineTime.FromSeconds(seconds) });
        _until = Math.Max(_until, seconds);
        return this;
    }

    public Night At(double seconds, Command command) => At(seconds, EngineInput.OfCommand(default, command));

    public Night Sample(double seconds, int channel, double value) => At(seconds, EngineInput.OfReading(default, channel, Reading.Of(value)));

    public Night Fault(double seconds, int channel, FaultCode code) => At(seconds, EngineInput.OfReading(default, channel, Reading.Failed(code)));

    /// <summary>Samples on the grid from..to (end excluded), value as a function of the second.</summary>
    public Night Series(int channel, double from, double to, Func<double, double> value, double period = 0.1)
    {
        long steps = (long)Math.Round((to - from) / period);
        for (long i = 0; i < steps; i++)
        {
            double t = Math.Round(from + (i * period), 6);
            Sample(t, channel, value(t));
        }

        _until = Math.Max(_until, to);
        return this;
    }

    public Night Series(int channel, double from, double to, double value, double period = 0.1) => Series(channel, from, to, _ => value, period);

    public Night Frames(int channel, double from, double to, double peak, double period = 0.25)
    {
        for (double t = from; t < to - 1e-9; t = Math.Round(t + period, 6))
        {
            double[] values = new double[64];
            values[7] = -peak;
            At(t, EngineInput.OfFrame(default, channel, new Frame((uint)(t * 4), 0, values)));
        }

        return this;
    }

    public Night Until(double seconds)
    {
        _until = Math.Max(_until, seconds);
        return this;
    }

    public List<EngineInput> Inputs()
    {
        var all = new List<EngineInput>(_inputs);
        long first = _inputs.Min(i => i.Time.Nanoseconds);
        for (EngineTime tick = new EngineTime(first - 1).NextTick(); tick.Seconds <= _until + 1e-9; tick = tick.NextTick())
        {
            all.Add(EngineInput.OfTick(tick));
        }

        EngineInput[] ordered = [.. all.Select((input, arrival) => (input, arrival))
            .OrderBy(p => p, Comparer<(EngineInput Input, int Arrival)>.Create((a, b) =>
            {
                int order = EngineInput.CompareForJudging(a.Input, b.Input);
                return order != 0 ? order : a.Arrival.CompareTo(b.Arrival);
            }))
            .Select(p => p.input)];
        var numbered = new List<EngineInput>(ordered.Length);
        foreach (EngineInput input in ordered)
        {
            numbered.Add(input with { Number = numbered.Count + 1 });
        }

        return numbered;
    }

    public List<FindingLine> Judge() => Judge(Inputs());

    public static List<FindingLine> Judge(IEnumerable<EngineInput> inputs)
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        foreach (EngineInput input in inputs)
        {
            engine.Apply(input, lines);
        }

        return lines;
    }
}
