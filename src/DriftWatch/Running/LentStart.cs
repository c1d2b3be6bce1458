using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Running;

/// <summary>
/// What a stretch from the middle of a log needs before its first input: the clock and the bench that were in force. They
/// take the two numbers before it.
/// </summary>
internal static class LentStart
{
    /// <summary>Whether nothing need be lent: the log's own beginning, or that of a process.</summary>
    public static bool Is(in EngineInput first) =>
        first.Number <= 2 || (first.Kind == InputKind.Clock && first.ClockEvent.Kind == ClockEventKind.Started);

    public static EngineInput[] Before(in EngineInput first, AnchorTable anchors, BenchDefinition bench)
    {
        EngineTime time = first.Time;
        TimeAnchor anchor = anchors.Anchors.LastOrDefault(a => a.Engine <= time, anchors.Anchors[0]);
        return
        [
            EngineInput.OfClock(time, new ClockEvent(ClockEventKind.Renewed, anchor)) with { Number = first.Number - 2 },
            EngineInput.OfBench(time, bench) with { Number = first.Number - 1 },
        ];
    }
}
