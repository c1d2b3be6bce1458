using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Queries;
using DriftWatch.Watch;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Running;

/// <summary>
/// What a stretch from the middle of a log needs before its first input: the clock and the bench that were in force, the calibrations that
/// were entered after the bench file's own, what people had taken out of service and not put back, and the pass and the baselines of the
/// tape that was on. They take the numbers before it.
/// </summary>
internal static class LentStart
{
    private static readonly TimeSpan LookedBackAtOnce = TimeSpan.FromHours(12);

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
                reader.Calibrations().Where(c => c.Number < first.Number), reader.Commands(0, int.MaxValue).Where(c => c.Number < first.Number).Select(c => c.Command),
                TapeOf(first, reader));
    }

    /// <param name="first">The stretch's first input.</param>
    /// <param name="anchors">Of the whole log.</param>
    /// <param name="bench">In force at that input.</param>
    /// <param name="calibrations">Entered before it, oldest first.</param>
    /// <param name="commands">What people entered before it, oldest first.</param>
    /// <param name="tape">What went on then; null for nothing.</param>
    private static EngineInput[] Before(
        in EngineInput first, AnchorTable anchors, BenchDefinition bench, IEnumerable<StoredCalibration> calibrations, IEnumerable<Command> commands, GoesOnCommand? tape)
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
        if (tape is not null)
        {
            more.Add(EngineInput.OfCommand(time, tape));
        }

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

    private static GoesOnCommand? TapeOf(EngineInput first, BenchReader reader)
    {
        List<StoredEntry> entries = [.. reader.Entries().Where(e => e.Number < first.Number)];
        BookPass? open = TransferBook.Of(entries.Select(e => e.Entry)).OpenPass;
        AnchorTable anchors = reader.ReadAnchors();
        var known = new GoesOnCommand
        {
            Id = Guid.Empty, // nobody entered it
            By = Command.TheService,
            Identity = Command.IdentityOfTheService,
            Pass = entries.FindLast(e => open is not null && IsBeginOf(open, e.Entry.Id) && WatchEngine.IsOfNow(e.Entry, anchors.ToUtcNanoseconds(e.At)))?.Entry,
            Baselines = Holding([.. reader.Baselines().Where(b => b.Number < first.Number)], first, reader),
        };
        return known.Pass is null && known.Baselines.Count == 0 ? null : known;
    }

    private static bool IsBeginOf(BookPass open, Guid entry) => entry == open.Opened.Id || entry == open.RunBegan?.Entry.Id;

    /// <summary>A person's baselines hold until the next; the machine's go with their tape.</summary>
    private static List<TakenBaseline> Holding(List<TakenBaseline> taken, EngineInput first, BenchReader reader)
    {
        int confirmed = taken.FindLastIndex(b => b.Standing == BaselineStanding.Confirmed);
        List<TakenBaseline> own = taken[(confirmed + 1)..];
        long tapeSince = own.Count == 0 ? 0 : LastEnd(first, own[0].At, reader);
        return NewestOfEach([.. taken.Take(confirmed + 1).Where(b => b.Standing == BaselineStanding.Confirmed), .. own.Where(b => b.Number > tapeSince)]);
    }

    /// <summary>Number of the input at which the last tape before the stretch ended, 0 for none; looked for from the stretch back, for months may lie before it.</summary>
    private static long LastEnd(EngineInput first, EngineTime from, BenchReader reader)
    {
        for (EngineTime to = first.Time; to > from; to -= LookedBackAtOnce)
        {
            EngineTime begin = to - LookedBackAtOnce > from ? to - LookedBackAtOnce : from;
            long last = reader.EachFindingBetween(begin, to, TimeSpan.Zero).Where(f => f.Line.Input < first.Number && EndsTape(f.Line)).Select(f => f.Line.Input).LastOrDefault();
            if (last > 0)
            {
                return last;
            }
        }

        return 0;
    }

    private static List<TakenBaseline> NewestOfEach(List<TakenBaseline> taken)
    {
        var seen = new HashSet<string>(StringComparer.Ordinal);
        var newest = new List<TakenBaseline>();
        for (int i = taken.Count - 1; i >= 0; i--)
        {
            List<BaselineValue> values = [.. taken[i].Values.Where(v => seen.Add(v.Channel))];
            if (values.Count > 0)
            {
                newest.Insert(0, taken[i] with { Values = values });
            }
        }

        return newest;
    }

    private static bool EndsTape(FindingLine line) => line.Kind == FindingKinds.PassBegins
        || (line.Kind == FindingKinds.State && (line.Cause == Slugs.Of(MachineState.NoAir) || line.Cause == Slugs.Of(MachineState.AirUp)));
}
