using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Running;

/// <summary>
/// What a stretch from the middle of a log needs before its first input: the clock and the bench that were in force, the calibrations that
/// were entered after the bench file's own, and what people had taken out of service and not put back. They take the numbers before it.
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
                reader.Calibrations().Where(c => c.Number < first.Number), reader.Commands(0, int.MaxValue).Where(c => c.Number < first.Number).Select(c => c.Command));
    }

    /// <param name="first">The stretch's first input.</param>
    /// <param name="anchors">Of the whole log.</param>
    /// <param name="bench">In force at that input.</param>
    /// <param name="calibrations">Entered before it, oldest first.</param>
    /// <param name="commands">What people entered before it, oldest first.</param>
    private static EngineInput[] Before(in EngineInput first, AnchorTable anchors, BenchDefinition bench, IEnumerable<StoredCalibration> calibrations, IEnumerable<Command> commands)
    {
        EngineTime time = first.Time;
        TimeAnchor anchor = anchors.Anchors.LastOrDefault(a => a.Engine <= time, anchors.Anchors[0]);
        var lent = new List<EngineInput>
        {
            EngineInput.OfClock(time, new ClockEvent(ClockEventKind.Renewed, anchor)),
            EngineInput.OfBench(time, bench),
        };
        List<EngineInput> more = [.. Entered(bench, calibrations).Select(c => EngineInput.OfCalibration(time, c.Channel, c.Calibration))];
        more.AddRange(OutOfService(commands).Select(command => EngineInput.OfCommand(time, command)));
        lent.AddRange(more.TakeLast((int)Math.Min(first.Number - 3, int.MaxValue)));
        for (int i = 0; i < lent.Count; i++)
        {
            lent[i] = lent[i] with { Number = first.Number - lent.Count + i };
        }

        return [.. lent];
    }

    /// <summary>The newest of each channel, where it came after the bench file's own; by channel, as they are judged.</summary>
    private static IEnumerable<StoredCalibration> Entered(BenchDefinition bench, IEnumerable<StoredCalibration> calibrations) =>
        calibrations.GroupBy(c => c.Channel).Select(g => g.MaxBy(c => c.Calibration.Version)!)
            .Where(c => bench.Channels.FirstOrDefault(b => b.Key == c.Channel) is { } channel && c.Calibration.Version > channel.Calibration.Version)
            .OrderBy(c => c.Channel);

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
