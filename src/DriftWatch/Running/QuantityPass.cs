using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
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
    /// <param name="engine">A new one, or one that knows all before the source's first input.</param>
    /// <param name="quantities">Those that are wanted; one that a bench of that day did not have, or had in another unit, stays empty there.</param>
    /// <param name="grid">The columns.</param>
    /// <param name="pieces">How many columns are handed over at once; a divisor of the grid's.</param>
    /// <param name="breathe">Called now and then, for whoever must leave the processor to others, or has enough.</param>
    /// <param name="begun">Called with the number of a piece before its first input is judged: the engine knows all before it.</param>
    /// <param name="ended">Called with a piece's columns, one row a quantity in their order; those without a tick are empty. A piece without an input is left out, and the rows are used again.</param>
    /// <exception cref="InvalidDataException">Inputs are missing within the span.</exception>
    public static void Run(
        IInputSource source, WatchEngine engine, IReadOnlyList<QuantityDefinition> quantities, SpanGrid grid, int pieces,
        Action breathe, Action<int> begun, Action<int, QuantityColumn[][]> ended)
    {
        var lines = new List<FindingLine>();
        var alarms = new List<AlarmTransition>();
        var now = new List<QuantityNow>();
        QuantityColumn[][] columns = [.. quantities.Select(_ => new QuantityColumn[pieces])];
        QuantityColumn[]?[] seats = SeatsOf(engine.Bench, quantities, columns);
        bool isFirst = engine.Bench is null;
        int reached = -1;
        int inputs = 0;
        while (source.TryRead(out EngineInput input))
        {
            if (!isFirst && input.Number != engine.LastNumber + 1)
            {
                throw new InvalidDataException($"Inputs {engine.LastNumber + 1} to {input.Number - 1} of this span are missing (a damaged file was set aside).");
            }

            isFirst = false;
            bool isInside = !input.IsLate && input.Time >= grid.From && input.Time < grid.To;
            int at = isInside ? (int)((input.Time.Nanoseconds - grid.From.Nanoseconds) / grid.Width) : -1;
            if (isInside && at / pieces > reached)
            {
                End();
                reached = at / pieces;
                begun(reached);
            }

            engine.Apply(input, lines, alarms);
            lines.Clear();
            alarms.Clear();
            if (input.Kind == InputKind.Bench)
            {
                seats = SeatsOf(input.Bench, quantities, columns);
            }
            else if (input.Kind == InputKind.Tick && isInside)
            {
                engine.ReadQuantities(now);
                for (int i = 0; i < now.Count; i++)
                {
                    if (now[i].Value is { } value && seats[i] is { } seat)
                    {
                        seat[at % pieces].Add(value);
                    }
                }
            }

            if (++inputs % BreatheEvery == 0)
            {
                breathe();
            }
        }

        End();

        void End()
        {
            if (reached >= 0)
            {
                ended(reached, columns);
            }

            foreach (QuantityColumn[] row in columns)
            {
                Array.Clear(row);
            }
        }
    }

    private static QuantityColumn[]?[] SeatsOf(BenchDefinition? bench, IReadOnlyList<QuantityDefinition> wanted, QuantityColumn[][] columns)
    {
        QuantityColumn[]? SeatOf(QuantityDefinition had)
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

        return bench is null ? [] : [.. bench.Quantities.Select(SeatOf)];
    }
}

/// <summary>What a quantity was over the ticks of a column, in its unit.</summary>
internal struct QuantityColumn
{
    public double Least { get; private set; }

    public double Greatest { get; private set; }

    /// <summary>Of all ticks.</summary>
    public double Sum { get; private set; }

    /// <summary>None: it could not be told.</summary>
    public int Ticks { get; private set; }

    public void Add(double value) => Add(value, value, value, 1);

    /// <summary>The kept column is a part of this one from now on.</summary>
    public void Add(in KeptColumn kept)
    {
        if (kept.Ticks > 0)
        {
            Add(kept.Least, kept.Greatest, (double)kept.Mean * kept.Ticks, kept.Ticks);
        }
    }

    private void Add(double least, double greatest, double sum, int ticks)
    {
        Least = Ticks == 0 ? least : Math.Min(Least, least);
        Greatest = Ticks == 0 ? greatest : Math.Max(Greatest, greatest);
        Sum += sum;
        Ticks += ticks;
    }
}

/// <summary>The same in 16 bytes, with the seven figures that are answered.</summary>
internal readonly record struct KeptColumn(float Least, float Greatest, float Mean, int Ticks)
{
    public static KeptColumn Of(in QuantityColumn c) => c.Ticks == 0 ? default : new((float)c.Least, (float)c.Greatest, (float)(c.Sum / c.Ticks), c.Ticks);

    public Bucket AsBucket(long from, long width) => new(new(from), new(from + width), Ticks, Least, Greatest, Mean, 0);
}
