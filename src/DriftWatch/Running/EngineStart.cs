using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Watch;

namespace DriftWatch.Running;

/// <summary>
/// Brings judgement to where the journal ends: from the stored snapshot if this build made it, else by judging the
/// last stretch of the journal anew.
/// </summary>
internal static class EngineStart
{
    /// <summary>Inputs judged anew when there is no snapshot to trust: about two hours of 20 channels at 10 Hz.</summary>
    private const long WarmStartInputs = 2_000_000;

    /// <summary>
    /// Engine time goes on from the journal by as much as the wall clock did while nobody watched; a wall clock that was
    /// set back meanwhile can't pull it behind what is stored.
    /// </summary>
    public static EngineTime TimeOf(BenchStore store, TimeProvider time)
    {
        if (store.Anchors.Anchors.Count == 0)
        {
            return default;
        }

        EngineTime byWall = store.Anchors.FromUtcNanoseconds(UtcText.ToNanoseconds(time.GetUtcNow()));
        var afterLast = new EngineTime(store.LastTime.Nanoseconds + 1);
        return byWall > afterLast ? byWall : afterLast;
    }

    /// <remarks>An import asks for all of them; a test, which has no two hours to store, for fewer.</remarks>
    public static WatchEngine CatchUp(BenchStore store, ILogger logger, long warmStartInputs = WarmStartInputs)
    {
        WatchEngine? engine = null;
        if (store.LoadJudged() is { } judged)
        {
            if (judged.EngineBuild != BenchPipeline.Build)
            {
                RunningLog.SnapshotDropped(logger, "another build of the program made it");
            }
            else if (!WatchEngine.TryRestore(judged.Snapshot.AsSpan(), out engine, out string whyNot))
            {
                RunningLog.SnapshotDropped(logger, whyNot);
                engine = null;
            }
        }

        long after = engine?.LastNumber
            ?? Math.Max(store.LastNumber - warmStartInputs is var from and > 1 ? from : 0, store.ExpiredThrough());
        bool isNew = engine is null;
        engine ??= new WatchEngine();
        if (store.LastNumber <= after)
        {
            return engine;
        }

        var lines = new List<FindingLine>();
        var alarms = new List<AlarmTransition>();
        bool first = true;
        foreach (EngineInput input in store.ReadInputs(after))
        {
            if (first && isNew)
            {
                using BenchReader reader = store.OpenReader();
                foreach (EngineInput lent in LentStart.Before(input, reader))
                {
                    engine.Apply(lent, lines); // the book has what befell alarms then
                }
            }

            first = false;
            engine.Apply(input, lines, alarms);
        }

        if (isNew)
        {
            alarms.InsertRange(0, Closed(store, engine)); // before what is judged anew: of a tag the last line counts
            lines.InsertRange(0, Ended(store, engine, lines));
        }

        store.CommitJudged(engine.LastNumber, engine.Snapshot(), BenchPipeline.Build, lines, alarms);
        RunningLog.CaughtUp(logger, engine.LastNumber - after, lines.Count);
        return engine;
    }

    /// <summary>
    /// What stands in the book and is not known to an engine that begins without memory: nobody could answer for it any more, and a
    /// lamp would wait for that for ever. What a reload took away has its last line already.
    /// </summary>
    private static List<AlarmTransition> Closed(BenchStore store, WatchEngine engine)
    {
        using BenchReader reader = store.OpenReader();
        HashSet<string> open = [.. engine.OpenAlarms.Select(a => a.Tag)];
        long utc = store.Anchors.ToUtcNanoseconds(store.LastTime);
        return
        [
            .. reader.StandingAlarms().Select(a => a.Line).Where(l => !open.Contains(l.Tag) && l.Why != "bench-reloaded").Select(l => l with
            {
                Input = engine.LastNumber,
                Place = l.Input == engine.LastNumber ? l.Place + 1 : 0,
                Step = AlarmStep.Returned,
                From = l.To,
                To = AlarmState.Normal,
                IsActive = false,
                At = store.LastTime,
                AtUtc = utc,
                Finding = null,
                By = null,
                Identity = null,
                Why = "judged-anew",
                ShelvedUntilUtc = null,
            }),
        ];
    }

    /// <summary>
    /// What lasted by the engine before and is not known to one that begins without memory: no judge would ever end it. Where it is raised
    /// anew it ends as that begins, so that one fault does not stand twice.
    /// </summary>
    private static List<FindingLine> Ended(BenchStore store, WatchEngine engine, List<FindingLine> anew)
    {
        using BenchReader reader = store.OpenReader();
        HashSet<string> known = [.. anew.Select(l => l.Id)];
        var ended = new List<FindingLine>();
        foreach (FindingLine line in reader.LastingFindings().Select(f => f.Line).Where(l => !known.Contains(l.Id)))
        {
            EngineTime end = anew.Find(l => l.Kind == line.Kind && l.Channel == line.Channel && l.Start >= line.Start)?.Start ?? store.LastTime;
            ended.Add(line with
            {
                Phase = FindingPhase.Ended,
                Input = engine.LastNumber,
                End = end,
                EndUtc = store.Anchors.ToUtcNanoseconds(end),
                Details = [.. line.Details, new FindingDetail("endedBy", null, "judged-anew")],
            });
        }

        return ended;
    }
}
