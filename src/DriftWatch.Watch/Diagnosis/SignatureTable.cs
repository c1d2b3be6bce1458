namespace DriftWatch.Watch.Diagnosis;

/// <summary>
/// The causes that judgement can name and how each shows itself. Signs and company follow from the machine: air makes the
/// vacuum, vacuum holds the tape, the tape's place before the heads makes RF and timing. How far each subject goes for a
/// movement of the first, and how much that differs from machine to machine, was measured on practice nights for tuning;
/// where the physics gives the proportion (a clogged throat draws less air, a leak loads the regulator) it agrees.
/// </summary>
internal static class SignatureTable
{
    private const string Practice = "common practice, no source";
    private const string Derived = "derived";

    // How often a cause comes at once, within a minute, and over minutes or more. Source: common practice, no source.
    internal static readonly PaceOdds AtOnce = new(0.9, 0.05, 0.05);
    internal static readonly PaceOdds Sudden = new(0.8, 0.15, 0.05);
    internal static readonly PaceOdds Slow = new(0.05, 0.15, 0.8);
    internal static readonly PaceOdds Growing = new(0.1, 0.45, 0.45);

    // What is read of a picture that is no longer there.
    private static readonly string[] OfThePicture = ["control-track-phase", "servo-lock", "skew", "scallop", "async-residual", "rf-tilt", "rf-tilt-dips", "control-track-dips", Subjects.OneHead];

    private const string StopAndClean = "Stop the tape with the machine's own control, let the wheel come to rest, clean the head tips as the machine's manual says, and run the section again from 30 s before.";

    public static IReadOnlyList<Signature> All { get; } =
    [
        new()
        {
            Cause = "head-clogged", Words = "head {head} is clogged", Source = Practice,
            FirstAction = StopAndClean,
            Clues = [new(Subjects.OneHead, -3)], Paces = Sudden,
        },
        new()
        {
            Cause = "head-worn", Words = "the tip of head {head} is worn", Source = Practice,
            FirstAction = "Compare with the baselines of the last weeks; finish the tape if the picture bears it, and plan the exchange of the wheel.",
            Clues = [new(Subjects.Wear, -1)], Paces = Slow,
        },
        new()
        {
            Cause = "oxide-shed", Words = "the tape sheds oxide on all heads", Source = Practice,
            FirstAction = "Stop while there is still picture and clean heads and guide; if it comes back within minutes, the tape wants treatment before another pass.",
            Clues = [new("rf-common", -1, 0.2)], Paces = Slow,
        },
        new()
        {
            Cause = "tracking-off", Words = "tracking has moved", Source = Derived,
            FirstAction = "Set the tracking to the peak of the heads' RF; then look why it moved: control track, capstan, or a hand.",
            Clues = [new("rf-common", -1, 0.5), new("control-track-phase", 1, 0.8, EitherWay: true)],
        },
        new()
        {
            Cause = "tape-lifted", Words = "tape has lifted off the guide", Source = Practice, TakesThePicture = true,
            FirstAction = "Stop the tape with the machine's own control and see how it lies in the guide; splices, curl and a lost tension do this.",
            Clues = [new("normalised-vacuum", -4), new("rf-common", -5.2)], LeftToChance = [.. OfThePicture, "vacuum-unrest"], Paces = new(0.7, 0.15, 0.15),
        },
        new()
        {
            Cause = "tape-run-out", Words = "the tape has run out or broken", Source = Practice, TakesThePicture = true,
            FirstAction = "Stop reels and wheel with the machine's own controls; keep hands off moving reels.",
            Clues = [new("normalised-vacuum", -4), new("rf-common", -6), new("control-track", -6)], LeftToChance = [.. OfThePicture, "vacuum-unrest"], Paces = AtOnce,
        },
        new()
        {
            Cause = "control-track-lost", Words = "the control track is weak or lost", Source = Practice,
            FirstAction = "Clean the control-track head; if it stays, look at that edge of the tape.",
            Clues = [new("control-track", -2)], LeftToChance = ["servo-lock", "control-track-phase", "control-track-dips", "skew", "scallop"],
        },
        new()
        {
            Cause = "edge-damage", Words = "an edge of the tape is damaged", Source = Practice,
            FirstAction = "Look at the edges of the pack; lower the winding speed and note the stretch of tape for a second pass.",
            Clues = [new("control-track-dips", 1, 0.5), new("rf-tilt-dips", 2, 0.5)], LeftToChance = ["control-track", "rf-tilt", "rf-common"], Paces = Growing,
        },
        new()
        {
            Cause = "guide-contact", Words = "the guide no longer presses the tape evenly", Source = Practice,
            FirstAction = "Look at guide and tape at the end of the pass that is low; set the guide to this tape as the machine's manual says.",
            Clues = [new("rf-tilt", 1, 0.3, EitherWay: true), new("rf-common", -0.5, 0.5)], LeftToChance = ["rf-tilt-dips"],
        },
        new()
        {
            Cause = "guide-height-moved", Words = "the guide's height has moved", Source = Derived,
            FirstAction = "Set the guide's height for least scallop on this tape's bars, then look why it moved.",
            Clues = [new("scallop", 1, 0.2, EitherWay: true)],
        },
        new()
        {
            Cause = "guide-penetration-moved", Words = "the guide has moved in or out", Source = Derived,
            FirstAction = "Set the guide in or out for least skew on this tape's bars, then look why it moved.",
            Clues = [new("skew", 1, 0.2, EitherWay: true)],
        },
        new()
        {
            Cause = "slots-dirty", Words = "the guide's slots are dirty", Source = Practice,
            FirstAction = "Stop, take the tape off the guide and clean its slots.",
            Clues = [new("rf-common", -1), new("normalised-vacuum", 0.12, 0.4)], Paces = Slow,
        },
        new()
        {
            Cause = "venturi-clogged", Words = "the venturi is clogged or its line leaks", Source = Practice,
            FirstAction = "With the air off and bled, look at the vacuum line and clean the venturi; eye protection on.",
            Clues = [new("normalised-vacuum", -1, 0.1), new("rf-common", -0.4, 0.4), new("supply-fall-rate", -0.09, 0.5)], Paces = Slow,
        },
        .. AirSignatures.All,
        new()
        {
            Cause = "sensor-fault", Words = "a sensor or its line is at fault", Source = Practice,
            FirstAction = "Look at the sensor's plug, wire and supply; the machine itself may be sound.",
            Clues = [new(Subjects.Readings, -1)],
        },
        new()
        {
            Cause = "servo-unlocked", Words = "the servos have lost their lock", Source = Practice,
            FirstAction = "Look at the control track and at the reference the servos are locked to.",
            Clues = [new("servo-lock", -1)], LeftToChance = ["control-track-phase", "rf-common", "skew", "scallop"], Paces = Sudden,
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
