using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Watch.Alarms.Health;

/// <summary>A book of alarms written by hand: seconds from a whole ten minutes of UTC.</summary>
internal sealed class Book
{
    /// <summary>2026-03-01 20:00 UTC, at the engine's time 0.</summary>
    public const long Base = 1_772_395_200_000_000_000;

    public List<AlarmTransition> Lines { get; } = [];

    public static long Utc(double seconds) => Base + (long)Math.Round(seconds * 1e9);

    public Book Raise(double seconds, string id, string? tag = null, AlarmPriority priority = AlarmPriority.Low) =>
        Add(seconds, id, AlarmStep.Raised, AlarmState.Unacknowledged, true, tag, priority);

    public Book Return(double seconds, string id, AlarmState to = AlarmState.ReturnedUnacknowledged) => Add(seconds, id, AlarmStep.Returned, to, false);

    public Book Acknowledge(double seconds, string id, AlarmState to = AlarmState.Acknowledged) =>
        Add(seconds, id, AlarmStep.Acknowledged, to, to == AlarmState.Acknowledged, by: "anna");

    public Book Add(
        double seconds, string id, AlarmStep step, AlarmState to, bool active, string? tag = null, AlarmPriority? priority = null, string? by = null, long? raised = null)
    {
        AlarmTransition? before = Lines.FindLast(l => l.Id == id);
        Lines.Add(new AlarmTransition
        {
            Id = id,
            Tag = tag ?? before?.Tag ?? $"above-limit.{id}",
            Input = Lines.Count + 1,
            Place = 0,
            Bench = "bench",
            BenchHash = "ab",
            Step = step,
            From = before?.To ?? AlarmState.Normal,
            To = to,
            IsActive = active,
            IsAcknowledged = to == AlarmState.Acknowledged,
            Priority = priority ?? before?.Priority ?? AlarmPriority.Low,
            At = EngineTime.FromSeconds(seconds),
            AtUtc = Utc(seconds),
            RaisedUtc = raised ?? (step == AlarmStep.Raised ? Utc(seconds) : before?.RaisedUtc ?? Utc(seconds)),
            StartUtc = raised ?? Utc(seconds),
            State = MachineState.Running,
            FirstOut = "bench.first",
            Findings = 1,
            Channel = "regulated-air",
            Cause = before?.Cause,
            By = by,
            Why = by is null ? null : "seen",
            Text = $"{id} at {seconds} s.",
        });
        return this;
    }
}
