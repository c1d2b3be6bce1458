using System.Globalization;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Benchmarks.Mathematics;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Wear;

namespace DriftWatch.Benchmarks.Watching;

/// <summary>
/// The judge of wear over years of line-ups that are made, not played: how often it names a head of a sound machine in a year, and how
/// soon it names a worn one. Tapes differ by 2 dB as a whole and by a scatter of each head; the rig's tapes differ by their tracking.
/// </summary>
internal static class HeadWearFigures
{
    private const int Days = 365;

    public static void Run(TextWriter output, Size size)
    {
        int machines = size == Size.Full ? 200 : 5;
        output.WriteLine(FormattableString.Invariant($"{machines} machines a row, each watched for a year; head 3 wears from the first day"));
        output.WriteLine();
        output.WriteLine("| line-ups every | scatter of a head from tape to tape, dB | wear, dB a month | head 3 named, % | days until then, median | fall then, dB, median | another head ever named, % |");
        output.WriteLine("|---|---|---|---|---|---|---|");
        foreach (int every in (int[])[1, 7])
        {
            foreach (double? scatter in (double?[])[0.1, 0.2, 0.5, 1.0, null])
            {
                foreach (double wear in (double[])[0, 0.5, 2])
                {
                    Row(output, machines, every, scatter, wear);
                }
            }
        }
    }

    private static void Row(TextWriter output, int machines, int every, double? scatter, double wear)
    {
        var line = new NoisyLine(20260620);
        int named = 0;
        int others = 0;
        var after = new List<double>();
        var fall = new List<double>();
        for (int machine = 0; machine < machines; machine++)
        {
            (double? day, bool other) = Year(line, (ulong)machine, every, scatter, wear);
            others += other ? 1 : 0;
            if (day is { } when)
            {
                named++;
                after.Add(when);
                fall.Add(wear * when / (365.25 / 12));
            }
        }

        string Middle(List<double> of) => of.Count == 0 ? "-" : of.Order().ElementAt(of.Count / 2).ToString("0.0", CultureInfo.InvariantCulture);
        string span = every == 1 ? "day" : FormattableString.Invariant($"{every} days");
        string tapes = scatter is { } sigma ? sigma.ToString("0.0", CultureInfo.InvariantCulture) : "the rig's tapes";
        output.WriteLine(FormattableString.Invariant(
            $"| {span} | {tapes} | {wear} | {100.0 * named / machines:0.0} | {Middle(after)} | {(wear > 0 ? Middle(fall) : "-")} | {100.0 * others / machines:0.0} |"));
    }

    /// <summary>The day on which head 3 is first named, and whether another head ever is.</summary>
    private static (double? Day, bool Other) Year(NoisyLine line, ulong seed, int every, double? scatter, double wear)
    {
        var record = new LineUpRecord();
        var tapes = RigRandom.Stream(910_000 + seed, "tapes");
        RigParameters rig = RigParameters.From(910_000 + seed);
        double? named = null;
        bool other = false;
        for (int day = 0; day < Days; day += every)
        {
            RigTape tape = RigTape.Draw(tapes);
            double common = 2 * line.Gauss();
            FourHeads levels = default;
            for (int head = 1; head <= FourHeads.Count; head++)
            {
                double own = scatter is { } sigma
                    ? sigma * line.Gauss()
                    : RfHeads.TrackingDb(rig.TrackingMil + tape.TrackingMil + rig.Heads.AxialMil[head - 1]) + (0.05 * line.Gauss());
                levels = levels.With(head, common + own - (head == 3 ? wear * day / (365.25 / 12) : 0));
            }

            long nanoseconds = day * 86_400L * EngineTime.NanosecondsPerSecond;
            record.Keep(new LineUp(new EngineTime(nanoseconds), nanoseconds, levels));
            for (int head = 1; head <= FourHeads.Count; head++)
            {
                bool says = HeadWear.Of(record.Dates, record.LevelsDb, head, HeadWearJudge.Confidence) is { IsKnown: true, Value: var trend } && HeadWearJudge.IsWorn(trend);
                named ??= says && head == 3 ? day : null;
                other |= says && head != 3;
            }

            if (named is not null && wear > 0)
            {
                break;
            }
        }

        return (named, other);
    }
}
