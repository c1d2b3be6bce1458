using static DriftWatch.Watch.Diagnosis.SignatureTable;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>The causes that begin with the air. They differ by what the supply does, by where the fall begins, and by whether the vacuum does more than follow.</summary>
internal static class AirSignatures
{
    private const string Practice = "common practice, no source";
    private const string Derived = "derived";

    // With less air the bearing is softer and the tape is held less. Source: derived.
    private static readonly string[] OnLowAir = ["async-residual", "rf-common"];

    private const string BleedFirst = " Compressed air: shut off and bleed before opening a fitting, eye protection on.";

    public static IReadOnlyList<Signature> All { get; } =
    [
        new()
        {
            Cause = "compressor-worn", Words = "the compressor gives too little", Source = Derived,
            FirstAction = "Finish or stop the tape before the supply reaches the regulator's headroom; then look at the compressor's intake, valves and belt.",
            Clues = [new("supply-rise-rate", -3), new("compressor-duty", 1, 0.2)], LeftToChance = ["regulator-effect"], TakesTheAir = true,
        },
        new()
        {
            Cause = "supply-leak", Words = "the supply side leaks", Source = Derived,
            FirstAction = "Listen along receiver, hose and fittings before the regulator, and do a leak-down when the tape is off." + BleedFirst,
            Clues = [new("supply-fall-rate", 2, 0.4), new("supply-rise-rate", -2, 0.5), new("compressor-duty", 1), new("supply-fall-bend", 1.1, 0.3)], LeftToChance = ["regulator-effect"], TakesTheAir = true,
        },
        new()
        {
            Cause = "leak-downstream", Words = "air leaks behind the regulator", Source = Derived,
            FirstAction = "Listen along the line from the regulator to bearing and venturi; a push-fit or a hose is the usual place." + BleedFirst,
            Clues = [new("supply-fall-rate", 2, 0.4), new("supply-rise-rate", -2, 0.5), new("compressor-duty", 1), new("regulated-air", -0.25, 0.5)], LeftToChance = ["regulator-effect"],
        },
        new()
        {
            Cause = "filter-clogged", Words = "the air filter clogs", Source = Practice,
            FirstAction = "Watch the air; at the next stop compare it at rest and under flow, and change the filter's element." + BleedFirst,
            Clues = [new("regulated-air", -1, 0.1)], LeftToChance = OnLowAir, Paces = Slow,
        },
        new()
        {
            Cause = "regulator-sag", Words = "the regulator lets the air down", Source = Practice,
            FirstAction = "If the air does not come back at once, stop tape and wheel with the machine's own controls; then look at the regulator.",
            Clues = [new("regulated-air", -1, 0.1)], LeftToChance = OnLowAir, Paces = new(0.45, 0.1, 0.45),
        },
        new()
        {
            Cause = "regulator-creep", Words = "the regulator's seat leaks and the air creeps up", Source = Practice,
            FirstAction = "Set the regulator back; if it creeps again, change its seat after the tape.",
            Clues = [new("regulated-air", 1, 0.1)], Paces = Slow,
        },
        new()
        {
            Cause = "regulator-follows-supply", Words = "the regulator lets the supply's swing through", Source = Practice,
            FirstAction = "Have the regulator looked after; until then a steadier supply helps: a larger receiver or a second regulator before it.",
            Clues = [new("regulator-effect", 1, 0.1)], LeftToChance = ["regulated-air"],
        },
        new()
        {
            Cause = "moisture-in-air", Words = "there is water in the air", Source = Practice,
            FirstAction = "Stop before water reaches the bearing; drain filter bowls and receiver, look at the dryer." + BleedFirst,
            Clues = [new("regulated-unrest", 1), new("vacuum-unrest", 6, 0.5), new("async-residual", 0.9, 0.4), new("normalised-vacuum", -0.08, 0.8)], LeftToChance = ["regulated-air", "regulator-effect", "rf-common"], Paces = Growing,
        },
        new()
        {
            Cause = "dryer-exhausted", Words = "the dryer is exhausted", Source = Derived,
            FirstAction = "Change or regenerate the desiccant before the throat of the venturi ices; drain the bowls.",
            Clues = [new("dew-point", 1, 0.1)], Paces = Slow,
        },
        new()
        {
            Cause = "bearing-distress", Words = "the head wheel's air bearing is in distress", Source = Practice,
            FirstAction = "Stop the wheel with the machine's own control and let it run down on its air; do not start it again before the bearing has been looked at.",
            Clues = [new("async-residual", 1, 0.2), new("supply-fall-rate", 0.25, 0.5), new("supply-rise-rate", -0.2, 0.6), new("compressor-duty", 0.12, 0.5), new("regulated-air", -0.05, 0.5)],
        },
    ];
}
