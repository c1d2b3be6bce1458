using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Watch;
using DriftWatch.Watch.Quantities;

namespace DriftWatch.Running;

/// <summary>
/// One walk over a span of the log that works the derived quantities out again, by the engine that judges, since the store keeps
/// readings and not what follows from them. Each is asked for at every tick, as often as its limits are judged, so that nothing
/// that was judged is missing between a column's least and greatest.
/// </summary>
internal static class QuantityPass
{
    private const int BreatheEvery = 16_384;

    /// <param name="source">The inputs of the span and of a while before it; the caller disposes of it.</param>
    /// <param name="quantities">Those that are wanted; one that a bench of that day did not have, or had in another unit, stays empty there.</param>
    /// <param name="grid">The columns.</param>
    /// <param name="breathe">Called now and then, for whoever must leave the processor to others, or has enough.</param>
    /// <returns>Columns of each quantity in their order; empty ones are left out. <see cref="Bucket.Count"/> counts ticks.</returns>
    /// <exception cref="InvalidDataException">Inputs are missing within the span.</exception>
    public static IReadOnlyList<IReadOnlyList<Bucket>> Run(IInputSource source, IReadOnlyList<QuantityDefinition> quantities, SpanGrid grid, Action? breathe = null)
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var alarms = new List<AlarmTransition>();
        var now = new List<QuantityNow>();
        Columns[] columns = [.. quantities.Select(_ => new Columns(grid.Count))];
        Columns?[] seats = [];
        long inputs = 0;
        while (source.TryRead(out EngineInput input))
        {
            if (inputs > 0 && input.Number != engine.LastNumber + 1)
            {
                throw new InvalidDataException($"Inputs {engine.LastNumber + 1} to {input.Number - 1} of this span are missing (a damaged file was set aside).");
            }

            engine.Apply(input, lines, alarms);
            lines.Clear();
            alarms.Clear();
            if (input.Kind == InputKind.Bench)
            {
                seats = [.. input.Bench.Quantities.Select(q => SeatOf(q, quantities, columns))];
            }
            else if (input.Kind == InputKind.Tick && input.Time >= grid.From && input.Time < grid.To)
            {
                engine.ReadQuantities(now);
                int at = (int)((input.Time.Nanoseconds - grid.From.Nanoseconds) / grid.Width);
                for (int i = 0; i < now.Count; i++)
                {
                    if (now[i].Value is { } value)
                    {
                        seats[i]?.Add(at, value);
                    }
                }
            }

            if (++inputs % BreatheEvery == 0)
            {
                breathe?.Invoke();
            }
        }

        return [.. columns.Select(c => c.Made(grid))];
    }

    private static Columns? SeatOf(QuantityDefinition had, IReadOnlyList<QuantityDefinition> wanted, Columns[] columns)
    {
        for (int i = 0; i < wanted.Count; i++)
        {
            if (wanted[i].Id == had.Id && wanted[i].Unit == had.Unit)
            {
                return columns[i];
            }
        }

        return null;
    }

    private sealed class Columns(int count)
    {
        private readonly (double Least, double Greatest, double Sum, int Ticks)[] _all = new (double, double, double, int)[count];

        public void Add(int at, double value)
        {
            ref (double Least, double Greatest, double Sum, int Ticks) column = ref _all[at];
            column = column.Ticks == 0 ? (value, value, value, 1) : (Math.Min(column.Least, value), Math.Max(column.Greatest, value), column.Sum + value, column.Ticks + 1);
        }

        public List<Bucket> Made(SpanGrid grid)
        {
            var made = new List<Bucket>();
            for (int i = 0; i < _all.Length; i++)
            {
                if (_all[i] is { Ticks: > 0 } column)
                {
                    long from = (grid.First + i) * grid.Width;
                    made.Add(new Bucket(new(from), new(from + grid.Width), column.Ticks, column.Least, column.Greatest, column.Sum / column.Ticks, 0));
                }
            }

            return made;
        }
    }
}
