using static DriftWatch.Watch.Diagnosis.Clue;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>The causes that begin with the air. They differ by what the supply does, by where the fall begins, and by whether the vacuum does more than follow.</summary>
internal static class AirSignatures
{
    private const double Seldom = 0.3;

    private const string Practice = "common practice, no source";
    private const string Derived = "derived";

    private const string BleedFirst = " Compressed air: shut off and bleed before opening a fitting, eye protection on.";

    public static IReadOnlyList<Signature> All { get; } =
    [
        new()
        {
            Cause = "compressor-worn", Words = "the compressor gives too little", Source = Derived, First = "compressor-duty",
            FirstAction = "Finish or stop the tape before the supply reaches the regulator's headroom; then look at the compressor's intake, valves and belt.",
            Clues = [new("compressor-duty", Expected.Up, Always), new("supply-rise-rate", Expected.Down, Always), Still("supply-fall-rate"), new("supply-air", Expected.Down, Often), new("time-to-setpoint", Expected.Down, Seldom), new("regulated-air", Expected.Down, Often), Still("normalised-vacuum"), Still("rf-common")],
        },
        new()
        {
            Cause = "supply-leak", Words = "the supply side leaks", Source = Derived, First = "supply-fall-rate",
            FirstAction = "Listen along receiver, hose and fittings before the regulator, and do a leak-down when the tape is off." + BleedFirst,
            Clues = [new("supply-fall-rate", Expected.Up, Always), new("compressor-duty", Expected.Up, Always), new("supply-rise-rate", Expected.Down, Often), new("time-to-setpoint", Expected.Down, Seldom), Still("regulated-air"), Still("normalised-vacuum"), Still("async-residual")],
        },
        new()
        {
            Cause = "leak-downstream", Words = "air leaks behind the regulator", Source = Derived, First = "regulated-air",
            FirstAction = "Listen along the line from the regulator to bearing and venturi; a push-fit or a hose is the usual place." + BleedFirst,
            Clues = [new("regulated-air", Expected.Down, Always), new("compressor-duty", Expected.Up, Always), new("supply-fall-rate", Expected.Up, Always), Still("normalised-vacuum"), Still("async-residual"), Still("rf-common")],
        },
        new()
        {
            Cause = "filter-clogged", Words = "the air filter clogs", Source = Practice, First = "regulated-air",
            FirstAction = "Watch the air; at the next stop compare it at rest and under flow, and change the filter's element." + BleedFirst,
            Clues = [new("regulated-air", Expected.Down, Always, Pace.Slow), new("guide-vacuum", Expected.Down, Often), Never("supply-air"), Still("compressor-duty"), Still("supply-fall-rate"), Still("normalised-vacuum"), Still("regulated-unrest"), Still(Subjects.AirSag)],
        },
        new()
        {
            Cause = "regulator-sag", Words = "the regulator lets the air down", Source = Practice, First = "regulated-air",
            FirstAction = "If the air does not come back at once, stop tape and wheel with the machine's own controls; then look at the regulator.",
            Clues = [new("regulated-air", Expected.Down, Always, Pace.Sudden), new("guide-vacuum", Expected.Down, Mostly), new(Subjects.AirSag, Expected.Down, Often), Never("supply-air"), Still("supply-fall-rate"), Still("normalised-vacuum"), Still("regulated-unrest")],
        },
        new()
        {
            Cause = "regulator-creep", Words = "the regulator's seat leaks and the air creeps up", Source = Practice, First = "regulated-air",
            FirstAction = "Set the regulator back; if it creeps again, change its seat after the tape.",
            Clues = [new("regulated-air", Expected.Up, Always), new("guide-vacuum", Expected.Up, Often), Never("supply-air"), Still("normalised-vacuum"), Still("compressor-duty"), Still("regulated-unrest")],
        },
        new()
        {
            Cause = "regulator-follows-supply", Words = "the regulator lets the supply's swing through", Source = Practice, First = "regulator-effect",
            FirstAction = "Have the regulator looked after; until then a steadier supply helps: a larger receiver or a second regulator before it.",
            Clues = [new("regulator-effect", Expected.Up, Always), new("regulated-unrest", Expected.Up, Often), Still("compressor-duty"), Still("normalised-vacuum"), Still("async-residual")],
        },
        new()
        {
            Cause = "moisture-in-air", Words = "there is water in the air", Source = Practice, First = "regulated-unrest",
            FirstAction = "Stop before water reaches the bearing; drain filter bowls and receiver, look at the dryer." + BleedFirst,
            Clues = [new("regulated-unrest", Expected.Up, Always), new("vacuum-unrest", Expected.Up, Mostly), new("normalised-vacuum", Expected.Down, Often, Pace.Slow), new("async-residual", Expected.Up, Mostly), Still("regulator-effect"), Still("compressor-duty"), Still("rf-common")],
        },
        new()
        {
            Cause = "dryer-exhausted", Words = "the dryer is exhausted", Source = Derived, First = "dew-point",
            FirstAction = "Change or regenerate the desiccant before the throat of the venturi ices; drain the bowls.",
            Clues = [new("dew-point", Expected.Up, Always), Still("regulated-unrest"), Still("regulated-air"), Still("normalised-vacuum")],
        },
        new()
        {
            Cause = "bearing-distress", Words = "the head wheel's air bearing is in distress", Source = Practice, First = "async-residual",
            FirstAction = "Stop the wheel with the machine's own control and let it run down on its air; do not start it again before the bearing has been looked at.",
            Clues = [new("async-residual", Expected.Up, Always), new("compressor-duty", Expected.Up, Mostly), new("supply-fall-rate", Expected.Up, Mostly), new("regulated-air", Expected.Down, 0.35), Still("regulated-unrest"), Still("normalised-vacuum"), Still("vacuum-unrest")],
        },
    ];
}
