using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Running;

/// <summary>
/// What a stretch from the middle of a log needs before its first input: the clock and the bench that were in force, and
/// what people had taken out of service and not put back. They take the numbers before it.
/// </summary>
internal static class LentStart
{
    /// <summary>Whether nothing need be lent: the log's own beginning, or that of a process.</summary>
    public static bool Is(in EngineInput first) =>
        first.Number <= 2 || (first.Kind == InputKind.Clock && first.ClockEvent.Kind == ClockEventKind.Started);

    /// <summary>What a stretch of a store needs; nothing where nothing need be lent.</summary>
    public static EngineInput[] Before(EngineInput first, BenchReader reader)
    {
        IReadOnlyList<StoredBench> benches = Is(first) ? [] : reader.BenchVersions();
        return benches.Count == 0
            ? []
            : Before(
                first, reader.ReadAnchors(), benches.LastOrDefault(b => b.Number < first.Number, benches[0]).Bench,
                reader.Commands(0, int.MaxValue).Where(c => c.Number < first.Number).Select(c => c.Command));
    }

    /// <param name="first">The stretch's first input.</param>
    /// <param name="anchors">Of the whole log.</param>
    /// <param name="bench">In force at that input.</param>
    /// <param name="commands">What people entered before it, oldest first.</param>
    private static EngineInput[] Before(in EngineInput first, AnchorTable anchors, BenchDefinition bench, IEnumerable<Command> commands)
    {
        EngineTime time = first.Time;
        TimeAnchor anchor = anchors.Anchors.LastOrDefault(a => a.Engine <= time, anchors.Anchors[0]);
        var lent = new List<EngineInput>
        {
            EngineInput.OfClock(time, new ClockEvent(ClockEventKind.Renewed, anchor)),
            EngineInput.OfBench(time, bench),
        };
        lent.AddRange(OutOfService(commands).TakeLast((int)Math.Min(first.Number - 3, int.MaxValue)).Select(command => EngineInput.OfCommand(time, command)));
        for (int i = 0; i < lent.Count; i++)
        {
            lent[i] = lent[i] with { Number = first.Number - lent.Count + i };
        }

        return [.. lent];
    }

    private static List<OutOfServiceCommand> OutOfService(IEnumerable<Command> commands)
    {
        var standing = new OrderedDictionary<string, OutOfServiceCommand>(StringComparer.Ordinal);
        foreach (Command command in commands)
        {
            if (command is OutOfServiceCommand taken)
            {
                standing.TryAdd(taken.Subject, taken);
            }
            else if (command is InServiceCommand back)
            {
                standing.Remove(back.Subject);
            }
        }

        return [.. standing.Values];
    }
}
