using System.Globalization;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch;

namespace DriftWatch.Benchmarks.Watching;

/// <summary>
/// The judge of drifts over practice nights: how many drifts it says on sound nights of 12 h, whose knobs are touched and whose
/// splices pass; and how much of the tolerance a drift that uses it in two hours has used when it is said. Seeds of the
/// figures begin at 700,001 (sound) and 710,001 (drifts); those the numbers of the judge were chosen with are below 600,000.
/// <c>DRIFTWATCH_NIGHTS</c> sets the number of nights, <c>DRIFTWATCH_NIGHTS_SEED</c> the first seed.
/// </summary>
public static class DriftWatchNights
{
    private static readonly (string Name, RigFaultKind Kind, double Magnitude, int? Head, string[] Channels)[] Causes =
    [
        ("regulator creeps up", RigFaultKind.RegulatorCreep, 2, null, ["regulated-air"]),
        ("regulator sags", RigFaultKind.RegulatorSag, 2, null, ["regulated-air"]),
        ("oxide sheds", RigFaultKind.OxideShed, 2, null, ["rf-head-1", "rf-head-2", "rf-head-3", "rf-head-4", "rf-common"]),
        ("one head falls", RigFaultKind.HeadClog, 2, 2, ["rf-head-2"]),
        ("vacuum leaks", RigFaultKind.VacuumLeak, 0.10, null, ["guide-vacuum"]),
        ("control track falls", RigFaultKind.ControlTrackLoss, 3, null, ["control-track"]),
        ("dryer is exhausted", RigFaultKind.DryerExhausted, 9, null, ["dew-point"]),
    ];

    private const double Begins = 3600;
    private const double Takes = 7200;

    public static void Sound(TextWriter output, Size size)
    {
        int nights = Count(size, 100);
        ulong first = FirstSeed(700_001);
        int said = 0;
        int baselines = 0;
        for (int i = 0; i < nights; i++)
        {
            foreach (FindingLine line in Judge(first + (ulong)i, [], size == Size.Full ? 12 : 0.5, changesTape: true))
            {
                baselines += line.Kind == FindingKinds.BaselineTaken ? 1 : 0;
                if (line is { Kind: FindingKinds.Drift, Phase: FindingPhase.Raised })
                {
                    said++;
                    output.WriteLine($"  seed {first + (ulong)i}: {line.RaisedAt.Seconds / 3600:0.00} h, {line.Text}");
                }
            }
        }

        output.WriteLine($"sound nights of 12 h, seeds {first} to {first + (ulong)nights - 1}: {said} drifts said in {nights} nights ({baselines} baselines)");
    }

    public static void Drifting(TextWriter output, Size size)
    {
        int runs = Count(size, 20);
        ulong first = FirstSeed(710_001);
        output.WriteLine("| drift that uses the tolerance in 2 h | runs | said before 40 % | said | used when said: median | worst | slope holds (95 %) | other drifts |");
        output.WriteLine("|---|---|---|---|---|---|---|---|");
        foreach ((string name, RigFaultKind kind, double magnitude, int? head, string[] channels) in Causes)
        {
            var used = new List<double>();
            int others = 0;
            int holds = 0;
            for (int i = 0; i < runs; i++)
            {
                var fault = new RigFault { Kind = kind, StartSeconds = Begins, RampSeconds = Takes, Magnitude = magnitude, Head = head };
                List<FindingLine> drifts = [.. Judge(first++, [fault], size == Size.Full ? (Begins + Takes) / 3600 : 0.5, changesTape: false)
                    .Where(l => l is { Kind: FindingKinds.Drift, Phase: FindingPhase.Raised })];
                if (drifts.FirstOrDefault(l => channels.Contains(l.Channel)) is { } line)
                {
                    // By the line's own slope: what the tolerance is, only the bench and its baseline know.
                    used.Add(kind == RigFaultKind.DryerExhausted ? UsedOf(line, magnitude) : (line.RaisedAt.Seconds - Begins) / Takes);
                    double truth = Truth(kind, magnitude, line) * 3600 / Takes;
                    holds += Detail(line, "slopeLow") <= truth && truth <= Detail(line, "slopeHigh") ? 1 : 0;
                }

                others += drifts.Count(l => !channels.Contains(l.Channel));
            }

            used.Sort();
            output.WriteLine(
                $"| {name} | {runs} | {used.Count(u => u < 0.4)} | {used.Count} | {(used.Count > 0 ? used[used.Count / 2] : double.NaN):P0} | {(used.Count > 0 ? used[^1] : double.NaN):P0} | {holds} | {others} |");
        }
    }

    private static double UsedOf(FindingLine line, double magnitude) =>
        magnitude * (line.RaisedAt.Seconds - Begins) / Takes / Math.Abs(line.Limit!.Value - Detail(line, "baseline"));

    /// <summary>What the channel does in all, in its unit.</summary>
    private static double Truth(RigFaultKind kind, double magnitude, FindingLine line) => kind switch
    {
        RigFaultKind.RegulatorCreep or RigFaultKind.DryerExhausted => magnitude,
        RigFaultKind.VacuumLeak => -magnitude * Detail(line, "baseline"),
        _ => -magnitude,
    };

    private static double Detail(FindingLine line, string name) => line.Details.First(d => d.Name == name).Number ?? double.NaN;

    private static List<FindingLine> Judge(ulong seed, IReadOnlyList<RigFault> faults, double hours, bool changesTape)
    {
        var steps = new List<RigStep> { new(20, RigAct.AirOn), new(30, RigAct.WheelOn), new(50, RigAct.Thread), new(70, RigAct.Run), new(130, RigAct.Programme) };
        for (double at = 5400; changesTape && at < (hours * 3600) - 1200; at += 6000)
        {
            steps.AddRange(
            [
                new(at, RigAct.Bars), new(at + 60, RigAct.Stop), new(at + 80, RigAct.Unthread), new(at + 90, RigAct.WheelOff), new(at + 300, RigAct.NextTape),
                new(at + 320, RigAct.WheelOn), new(at + 350, RigAct.Thread), new(at + 380, RigAct.Run), new(at + 440, RigAct.Programme),
            ]);
        }

        var script = new RigScript { Name = "night", Title = "night", Steps = steps, Faults = faults, LengthSeconds = hours * 3600 };
        var recorder = new RigRecorder(PracticeBench.TwentyAtTenHertz, script, seed, 1_772_323_200_000_000_000);
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        foreach (EngineInput input in recorder.Record(TimeSpan.FromHours(hours)))
        {
            engine.Apply(input, lines);
        }

        return lines;
    }

    private static int Count(Size size, int full) => size == Size.Smoke ? 1
        : int.TryParse(Environment.GetEnvironmentVariable("DRIFTWATCH_NIGHTS"), CultureInfo.InvariantCulture, out int nights) ? nights : full;

    private static ulong FirstSeed(ulong usual) =>
        ulong.TryParse(Environment.GetEnvironmentVariable("DRIFTWATCH_NIGHTS_SEED"), CultureInfo.InvariantCulture, out ulong seed) ? seed : usual;
}
