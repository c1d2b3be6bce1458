using static DriftWatch.Watch.Diagnosis.Clue;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>
/// The causes that judgement can name and how each shows itself. Signs and company follow from the machine: air makes the
/// vacuum, vacuum holds the tape, the tape's place before the heads makes RF and timing. How often each clue is so, the
/// likelihoods, is common practice without a source, but that the order of causes they give is right is measured: see the
/// table in the folder's README.
/// </summary>
internal static class SignatureTable
{
    private const string Practice = "common practice, no source";
    private const string Derived = "derived";

    private const string StopAndClean = "Stop the tape with the machine's own control, let the wheel come to rest, clean the head tips as the machine's manual says, and run the section again from 30 s before.";

    public static IReadOnlyList<Signature> All { get; } =
    [
        new()
        {
            Cause = "head-clogged", Words = "head {head} is clogged", Source = Practice, First = Subjects.OneHead,
            FirstAction = StopAndClean,
            Clues = [new(Subjects.OneHead, Expected.Down, Always, Pace.Sudden), new("rf-spread", Expected.Up, Always), Still("rf-common"), Still("normalised-vacuum"), Still("control-track"), Still("regulated-air"), Still("skew"), Still("scallop")],
        },
        new()
        {
            Cause = "head-worn", Words = "the tip of head {head} is worn", Source = Practice, First = Subjects.OneHead,
            FirstAction = "Compare with the baselines of the last weeks; finish the tape if the picture bears it, and plan the exchange of the wheel.",
            Clues = [new(Subjects.OneHead, Expected.Down, Always, Pace.Slow), new("rf-difference", Expected.Down, Always, Pace.Slow), Still("rf-common"), Still("normalised-vacuum"), Still("control-track"), Still("regulated-air")],
        },
        new()
        {
            Cause = "oxide-shed", Words = "the tape sheds oxide on all heads", Source = Practice, First = "rf-common",
            FirstAction = "Stop while there is still picture and clean heads and guide; if it comes back within minutes, the tape wants treatment before another pass.",
            Clues = [new("rf-common", Expected.Down, Always, Pace.Slow), new(Subjects.AllHeads, Expected.Down, Mostly), Still("rf-spread"), Never("normalised-vacuum"), Never("control-track-phase"), Still("control-track"), Still("regulated-air"), Still("scallop"), Still("rf-tilt")],
        },
        new()
        {
            Cause = "tracking-off", Words = "tracking has moved", Source = Derived, First = "rf-common",
            FirstAction = "Set the tracking to the peak of the heads' RF; then look why it moved: control track, capstan, or a hand.",
            Clues = [new("control-track-phase", Expected.Moved, Always), new("rf-common", Expected.Down, Mostly, Pace.Quick), new(Subjects.AllHeads, Expected.Down, Often), Still("rf-spread"), Still("normalised-vacuum"), Still("control-track"), Still("regulated-air"), Still("rf-tilt"), Never("servo-lock")],
        },
        new()
        {
            Cause = "tape-lifted", Words = "tape has lifted off the guide", Source = Practice, First = "normalised-vacuum", TakesThePicture = true,
            FirstAction = "Stop the tape with the machine's own control and see how it lies in the guide; splices, curl and a lost tension do this.",
            Clues = [new("normalised-vacuum", Expected.Down, Always), new("guide-vacuum", Expected.Down, Always), new("rf-common", Expected.Down, Always), new(Subjects.AllHeads, Expected.Down, Mostly), Still("control-track"), Still("regulated-air"), Still("supply-air"), Still("vacuum-unrest")],
        },
        new()
        {
            Cause = "tape-run-out", Words = "the tape has run out or broken", Source = Practice, First = "normalised-vacuum", TakesThePicture = true,
            FirstAction = "Stop reels and wheel with the machine's own controls; keep hands off moving reels.",
            Clues = [new("normalised-vacuum", Expected.Down, Always), new("guide-vacuum", Expected.Down, Always), new("rf-common", Expected.Down, Always), new(Subjects.AllHeads, Expected.Down, Always), new("control-track", Expected.Down, Always, Pace.Sudden), Still("regulated-air"), Still("supply-air")],
        },
        new()
        {
            Cause = "control-track-lost", Words = "the control track is weak or lost", Source = Practice, First = "control-track",
            FirstAction = "Clean the control-track head; if it stays, look at that edge of the tape.",
            Clues = [new("control-track", Expected.Down, Always), Still("rf-common"), Still("normalised-vacuum"), Still("rf-tilt"), Still("rf-spread"), Still("regulated-air")],
        },
        new()
        {
            Cause = "edge-damage", Words = "an edge of the tape is damaged", Source = Practice, First = "rf-tilt",
            FirstAction = "Look at the edges of the pack; lower the winding speed and note the stretch of tape for a second pass.",
            Clues = [new("rf-tilt", Expected.Moved, Always), new("control-track", Expected.Down, Mostly), new("rf-common", Expected.Down, Often), Still("normalised-vacuum"), Still("regulated-air"), Still("rf-spread")],
        },
        new()
        {
            Cause = "guide-contact", Words = "the guide no longer presses the tape evenly", Source = Practice, First = "rf-tilt",
            FirstAction = "Look at guide and tape at the end of the pass that is low; set the guide to this tape as the machine's manual says.",
            Clues = [new("rf-tilt", Expected.Moved, Always), new("rf-common", Expected.Down, Often), Still("control-track"), Still("normalised-vacuum"), Still("rf-spread"), Still("regulated-air")],
        },
        new()
        {
            Cause = "guide-height-moved", Words = "the guide's height has moved", Source = Derived, First = "scallop",
            FirstAction = "Set the guide's height for least scallop on this tape's bars, then look why it moved.",
            Clues = [new("scallop", Expected.Moved, Always), Still("skew"), new("corrector-use", Expected.Up, Often), Still("normalised-vacuum"), Still("rf-common"), Still("regulated-air"), Still("async-residual")],
        },
        new()
        {
            Cause = "guide-penetration-moved", Words = "the guide has moved in or out", Source = Derived, First = "skew",
            FirstAction = "Set the guide in or out for least skew on this tape's bars, then look why it moved.",
            Clues = [new("skew", Expected.Moved, Always), Still("scallop"), new("corrector-use", Expected.Up, Often), Still("normalised-vacuum"), Still("rf-common"), Still("regulated-air"), Still("async-residual")],
        },
        new()
        {
            Cause = "slots-dirty", Words = "the guide's slots are dirty", Source = Practice, First = "normalised-vacuum",
            FirstAction = "Stop, take the tape off the guide and clean its slots.",
            Clues = [new("normalised-vacuum", Expected.Up, Always), new("rf-common", Expected.Down, Often), new("scallop", Expected.Moved, Often), Still("regulated-air"), Still("control-track"), Still("rf-spread")],
        },
        new()
        {
            Cause = "venturi-clogged", Words = "the venturi is clogged or its line leaks", Source = Practice, First = "normalised-vacuum",
            FirstAction = "With the air off and bled, look at the vacuum line and clean the venturi; eye protection on.",
            Clues = [new("normalised-vacuum", Expected.Down, Always, Pace.Slow), new("guide-vacuum", Expected.Down, Always), Still("regulated-air"), Still("vacuum-unrest"), Still("rf-common"), Still("control-track"), Still("regulated-unrest"), Still("async-residual")],
        },
        .. AirSignatures.All,
        new()
        {
            Cause = "sensor-fault", Words = "a sensor or its line is at fault", Source = Practice, First = Subjects.Readings,
            FirstAction = "Look at the sensor's plug, wire and supply; the machine itself may be sound.",
            Clues = [new(Subjects.Readings, Expected.Down, 0.99)],
            SpeaksForItself = true,
        },
        new()
        {
            Cause = "servo-unlocked", Words = "the servos have lost their lock", Source = Practice, First = "servo-lock",
            FirstAction = "Look at the control track and at the reference the servos are locked to.",
            Clues = [new("servo-lock", Expected.Down, Always), new("control-track-phase", Expected.Moved, Often), new("rf-common", Expected.Down, Often), Still("normalised-vacuum"), Still("regulated-air"), Still("control-track")],
        },
    ];

    public static IReadOnlyList<Signature> OfReadings { get; } = [.. All.Where(s => s.Explains(Subjects.Readings))];

    /// <summary>The row of a cause; null for 'unknown' and for none.</summary>
    public static Signature? Of(string? cause)
    {
        foreach (Signature signature in All)
        {
            if (signature.Cause == cause)
            {
                return signature;
            }
        }

        return null;
    }
}
