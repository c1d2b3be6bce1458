using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Codec;

namespace DriftWatch.Storage.Months;

/// <summary>
/// A piece of the log by columns. Within it the order of judging is the order of (time, kind, channel), so a reading's
/// number need not be kept: it is counted out again. What does not follow from its time — clock, bench, calibration,
/// command and late inputs — keeps its number; ticks are a range of the grid.
/// </summary>
internal sealed class SegmentData
{
    public required long First { get; init; }

    public required long Last { get; init; }

    public required long Stretch { get; init; }

    /// <summary>Least and greatest time of what is not late, in nanoseconds.</summary>
    public required long T0 { get; init; }

    public required long T1 { get; init; }

    /// <summary>First and last tick; null when there is none.</summary>
    public long? Tick0 { get; init; }

    public long? Tick1 { get; init; }

    public IReadOnlyList<SeriesColumn> Series { get; init; } = [];

    public IReadOnlyList<FrameColumn> Frames { get; init; } = [];

    public IReadOnlyList<EngineInput> Explicit { get; init; } = [];

    /// <summary>The inputs as a journal row, where their order does not follow from their times.</summary>
    public byte[]? Opaque { get; set; }

    /// <summary>True for an input that keeps its number.</summary>
    public static bool IsExplicit(in EngineInput input) => input.IsLate || PayloadJson.Carries(input.Kind);

    public static SegmentData Build(ReadOnlySpan<EngineInput> inputs, long stretch, Func<int, int> versionOf)
    {
        var series = new SortedDictionary<int, SeriesColumn>();
        var frames = new SortedDictionary<int, FrameColumn>();
        var kept = new List<EngineInput>();
        SeriesColumn?[] byKey = new SeriesColumn?[64];
        long t0 = long.MaxValue;
        long t1 = long.MinValue;
        long? tick0 = null;
        long? tick1 = null;
        bool ordered = true;
        EngineInput before = default;
        bool any = false;
        foreach (ref readonly EngineInput input in inputs)
        {
            long time = input.Time.Nanoseconds;
            if (!input.IsLate)
            {
                t0 = Math.Min(t0, time);
                t1 = Math.Max(t1, time);
            }

            if (IsExplicit(input))
            {
                kept.Add(input);
                continue;
            }

            // Strictly rising keys are the only order that sorting gives back: this is the whole proof.
            ordered &= !any || EngineInput.CompareForJudging(before, input) < 0;
            before = input;
            any = true;
            switch (input.Kind)
            {
                case InputKind.Tick:
                    ordered &= time % EngineTime.TickGridNanoseconds == 0
                        && (tick1 is null || time == tick1 + EngineTime.TickGridNanoseconds);
                    tick0 ??= time;
                    tick1 = time;
                    break;
                case InputKind.Frame:
                    if (!frames.TryGetValue(input.Channel, out FrameColumn? frame))
                    {
                        frames.Add(input.Channel, frame = new FrameColumn(input.Channel, versionOf(input.Channel)));
                    }

                    frame.Times.Add(time);
                    frame.Frames.Add(input.Frame);
                    break;
                default:
                    SeriesColumn? column = input.Channel < byKey.Length ? byKey[input.Channel] : series.GetValueOrDefault(input.Channel);
                    if (column is null)
                    {
                        series.Add(input.Channel, column = new SeriesColumn(input.Channel, versionOf(input.Channel)));
                        if (input.Channel < byKey.Length)
                        {
                            byKey[input.Channel] = column;
                        }
                    }

                    column.Add(input);
                    break;
            }
        }

        var segment = new SegmentData
        {
            First = inputs[0].Number,
            Last = inputs[^1].Number,
            Stretch = stretch,
            T0 = t0 == long.MaxValue ? inputs[0].Time.Nanoseconds : t0,
            T1 = t1 == long.MinValue ? inputs[^1].Time.Nanoseconds : t1,
            Tick0 = tick0,
            Tick1 = tick1,
            Series = [.. series.Values],
            Frames = [.. frames.Values],
            Explicit = kept,
        };
        if (!ordered)
        {
            segment.KeepAsGiven(inputs);
        }

        return segment;
    }

    public void KeepAsGiven(ReadOnlySpan<EngineInput> inputs)
    {
        var writer = new ByteWriter();
        JournalCodec.Write(writer, inputs);
        Opaque = writer.Written.ToArray();
    }

    /// <summary>Whether one segment over both would count out the same numbers, and hold one calibration a channel.</summary>
    public bool CanTake(SegmentData next) =>
        Opaque is null && next.Opaque is null
        && Stretch == next.Stretch
        && Last + 1 == next.First
        && T1 < next.T0
        && (Tick1 is null || next.Tick0 is null || Tick1 + EngineTime.TickGridNanoseconds == next.Tick0)
        && Series.All(column => next.Series.All(other => other.Channel != column.Channel || other.Version == column.Version))
        && Frames.All(column => next.Frames.All(other => other.Channel != column.Channel || other.Version == column.Version));

    /// <summary>One segment over all, which must each take the next.</summary>
    public static SegmentData Join(IReadOnlyList<SegmentData> parts)
    {
        var series = new SortedDictionary<int, SeriesColumn>();
        var frames = new SortedDictionary<int, FrameColumn>();
        foreach (SegmentData part in parts)
        {
            foreach (SeriesColumn column in part.Series)
            {
                if (!series.TryGetValue(column.Channel, out SeriesColumn? all))
                {
                    series.Add(column.Channel, all = new SeriesColumn(column.Channel, column.Version));
                }

                all.AddRange(column);
            }

            foreach (FrameColumn column in part.Frames)
            {
                if (!frames.TryGetValue(column.Channel, out FrameColumn? all))
                {
                    frames.Add(column.Channel, all = new FrameColumn(column.Channel, column.Version));
                }

                all.AddRange(column);
            }
        }

        return new SegmentData
        {
            First = parts[0].First,
            Last = parts[^1].Last,
            Stretch = parts[0].Stretch,
            T0 = parts[0].T0,
            T1 = parts[^1].T1,
            Tick0 = parts.FirstOrDefault(part => part.Tick0 is not null)?.Tick0,
            Tick1 = parts.LastOrDefault(part => part.Tick1 is not null)?.Tick1,
            Series = [.. series.Values],
            Frames = [.. frames.Values],
            Explicit = [.. parts.SelectMany(part => part.Explicit)],
        };
    }

    /// <summary>The inputs again, in number order, bit-equal to those the segment was built from.</summary>
    public IEnumerable<EngineInput> Inputs()
    {
        if (Opaque is not null)
        {
            var given = new List<EngineInput>();
            JournalCodec.Read(Opaque, given);
            foreach (EngineInput input in given)
            {
                yield return input;
            }

            yield break;
        }

        var seriesAt = new int[Series.Count];
        var framesAt = new int[Frames.Count];
        int explicitAt = 0;
        long tick = Tick0 ?? long.MaxValue;
        long number = First;
        var instant = new List<EngineInput>();
        while (number <= Last)
        {
            instant.Clear();
            long time = NextTime(seriesAt, framesAt, tick);
            if (time != long.MaxValue)
            {
                Take(time, seriesAt, framesAt, instant);
                if (tick == time)
                {
                    instant.Add(EngineInput.OfTick(new EngineTime(tick)));
                    tick = tick == Tick1 ? long.MaxValue : tick + EngineTime.TickGridNanoseconds;
                }
            }
            else if (explicitAt == Explicit.Count)
            {
                throw StoreException.Damaged($"Inputs {number} to {Last} are missing from their blocks.");
            }

            for (int i = 0; i <= instant.Count; i++)
            {
                while (explicitAt < Explicit.Count && Explicit[explicitAt].Number == number)
                {
                    yield return Explicit[explicitAt++];
                    number++;
                }

                if (i < instant.Count)
                {
                    yield return instant[i] with { Number = number++ };
                }
            }

            if (instant.Count == 0 && explicitAt < Explicit.Count && number <= Last)
            {
                throw StoreException.Damaged($"Input {number} is missing from its block.");
            }
        }
    }

    private long NextTime(int[] seriesAt, int[] framesAt, long tick)
    {
        long time = tick;
        for (int i = 0; i < seriesAt.Length; i++)
        {
            if (seriesAt[i] < Series[i].Count)
            {
                time = Math.Min(time, Series[i].Times[seriesAt[i]]);
            }
        }

        for (int i = 0; i < framesAt.Length; i++)
        {
            if (framesAt[i] < Frames[i].Times.Count)
            {
                time = Math.Min(time, Frames[i].Times[framesAt[i]]);
            }
        }

        return time;
    }

    private void Take(long time, int[] seriesAt, int[] framesAt, List<EngineInput> instant)
    {
        for (byte pass = 0; pass < 2; pass++)
        {
            for (int i = 0; i < seriesAt.Length; i++)
            {
                SeriesColumn column = Series[i];
                int at = seriesAt[i];
                if (at < column.Count && column.Times[at] == time && (column.Marks[at] >= SeriesColumn.Fault) == (pass == 1))
                {
                    instant.Add(column.InputAt(at, 0));
                    seriesAt[i]++;
                }
            }
        }

        for (int i = 0; i < framesAt.Length; i++)
        {
            FrameColumn column = Frames[i];
            if (framesAt[i] < column.Times.Count && column.Times[framesAt[i]] == time)
            {
                instant.Add(EngineInput.OfFrame(new EngineTime(time), column.Channel, column.Frames[framesAt[i]]));
                framesAt[i]++;
            }
        }
    }
}
