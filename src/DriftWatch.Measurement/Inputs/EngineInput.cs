using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Measurement.Inputs;

/// <summary>The kinds of input in the order in which they are judged at one instant. Stored: append only.</summary>
public enum InputKind : byte
{
    Clock = 0,
    Bench = 1,
    Calibration = 2,
    Command = 3,
    Sample = 4,
    Fault = 5,
    Frame = 6,
    Tick = 7,
}

/// <summary>
/// One numbered entry of the log, the only thing that can change a judgement. Numbers count from 1 in the order of
/// judging: time, then kind, then channel key, then arrival. A late input carries the time it was measured, which
/// lies before its neighbours' in the log; it is stored and shown but not judged.
/// </summary>
public readonly record struct EngineInput
{
    /// <summary>Position in the log, from 1; 0 before the merge has given one.</summary>
    public long Number { get; init; }

    public EngineTime Time { get; init; }

    public InputKind Kind { get; init; }

    public bool IsLate { get; init; }

    /// <summary>Channel key for sample, fault, frame and calibration; −1 otherwise.</summary>
    public int Channel { get; init; }

    /// <summary>For sample and fault; for a frame's fault too.</summary>
    public Reading Reading { get; init; }

    /// <summary><see cref="ClockEvent"/>, <see cref="BenchDefinition"/>, <see cref="Calibrations.Calibration"/>, <see cref="Command"/> or <see cref="Samples.Frame"/>, as the kind says.</summary>
    public object? Payload { get; init; }

    public Frame Frame => (Frame)Payload!;

    public ClockEvent ClockEvent => (ClockEvent)Payload!;

    public BenchDefinition Bench => (BenchDefinition)Payload!;

    public Calibration Calibration => (Calibration)Payload!;

    public Command Command => (Command)Payload!;

    /// <summary>A sample, or a fault where the reading is one.</summary>
    public static EngineInput OfReading(EngineTime time, int channel, Reading reading) => new()
    {
        Time = time,
        Kind = reading.IsFault ? InputKind.Fault : InputKind.Sample,
        Channel = channel,
        Reading = reading,
    };

    public static EngineInput OfFrame(EngineTime time, int channel, Frame frame) =>
        new() { Time = time, Kind = InputKind.Frame, Channel = channel, Payload = frame };

    public static EngineInput OfTick(EngineTime time) => new() { Time = time, Kind = InputKind.Tick, Channel = -1 };

    public static EngineInput OfClock(EngineTime time, ClockEvent clockEvent) =>
        new() { Time = time, Kind = InputKind.Clock, Channel = -1, Payload = clockEvent };

    public static EngineInput OfBench(EngineTime time, BenchDefinition bench) =>
        new() { Time = time, Kind = InputKind.Bench, Channel = -1, Payload = bench };

    public static EngineInput OfCalibration(EngineTime time, int channel, Calibration calibration) =>
        new() { Time = time, Kind = InputKind.Calibration, Channel = channel, Payload = calibration };

    public static EngineInput OfCommand(EngineTime time, Command command) =>
        new() { Time = time, Kind = InputKind.Command, Channel = -1, Payload = command };

    /// <summary>For messages: number, time, kind and channel. The payload is not shown.</summary>
    public override string ToString() => $"{Number} {Time} {Kind} {Channel}{(IsLate ? " late" : "")}";

    /// <summary>Order of judging without the number: time, kind, channel key.</summary>
    public static int CompareForJudging(in EngineInput left, in EngineInput right)
    {
        int byTime = left.Time.CompareTo(right.Time);
        if (byTime != 0)
        {
            return byTime;
        }

        int byKind = ((byte)left.Kind).CompareTo((byte)right.Kind);
        return byKind != 0 ? byKind : left.Channel.CompareTo(right.Channel);
    }
}

public enum ClockEventKind
{
    /// <summary>A process began to watch; before it nobody was looking.</summary>
    Started,

    /// <summary>A process stopped on purpose: silence after it is no fault.</summary>
    Stopped,

    /// <summary>The wall clock was set: <see cref="ClockEvent.StepNanoseconds"/> tells by how much.</summary>
    WallStep,

    /// <summary>The machine slept: engine time went on by the anchor, readings did not.</summary>
    Resumed,

    /// <summary>A renewed anchor that follows slow drift of the wall clock; no event for people.</summary>
    Renewed,
}

/// <summary>Something that happened to time, with the anchor that holds from here on.</summary>
public sealed record ClockEvent(ClockEventKind Kind, TimeAnchor Anchor)
{
    /// <summary>Wall time after the step minus wall time that was due; positive when the clock was put forward.</summary>
    public long StepNanoseconds { get; init; }
}
