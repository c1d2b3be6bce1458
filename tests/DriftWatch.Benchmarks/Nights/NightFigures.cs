using System.Diagnostics;
using System.Globalization;
using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>
/// Judges hundreds of practice nights and says how well. Two sets with disjoint seeds: thresholds may be tuned on the one
/// (1,000,000 and up) and are told on the other (7,000,000 and up), which nobody looks at meanwhile. Those from 2,000,000, 3,000,000, 4,000,000, 5,000,000 and 6,000,000 were told before and have been seen.
/// </summary>
internal static class NightFigures
{
    public const ulong TuningSeeds = 1_000_000;

    public const ulong HeldOutSeeds = 7_000_000;

    /// <summary>Seeds of one cause's nights begin this far behind those of the cause before; the sound ones come first.</summary>
    private const ulong SeedsPerCause = 10_000;

    /// <returns>The process's exit code.</returns>
    public static int Command(bool heldOut, string[] arguments, TextWriter output, TextWriter trouble)
    {
        if (NightOptions.Parse(arguments, heldOut, out string mistake) is not { } options)
        {
            trouble.WriteLine(mistake);
            return 2;
        }

        if (options.Tell is { } seed)
        {
            return Tell(options, seed, output, trouble);
        }

        IReadOnlyList<NightResult> results = Judge(options, trouble);
        output.WriteLine(FormattableString.Invariant(
            $"Practice nights, {(heldOut ? "held out" : "for tuning")}: seeds from {options.FirstSeed}, build {NightResult.ThisBuild}."));
        NightTables.Print(output, [.. results.Select(result => new NightScore(result))]);
        output.WriteLine(FormattableString.Invariant($"This run took {Environment.CpuUsage.TotalTime.TotalSeconds:0} s of processor."));
        return 0;
    }

    /// <summary>One short night of every kind of plan, and one night by the recorder's way beside ours.</summary>
    public static void Smoke(TextWriter output, Size size)
    {
        HoldPlans(output, size == Size.Full ? 200 : 20);
        NightPlan[] plans =
        [
            NightPlan.OfSound(TuningSeeds + 999_999, 0.2),
            .. NightCauses.All.Where(c => c.Slug is "supply-leak" or "head-worn" or "sensor-fault" or "guide-height-moved")
                .Select((cause, i) => NightPlan.Of(cause, TuningSeeds + 999_990 + (ulong)i, smoke: true)),
        ];
        NightTables.Print(output, [.. plans.Select(plan => new NightScore(NightResult.FromLine(Play(plan).ToLine())))]);
        HoldAgainstRecorder(output, plans[0]);
    }

    /// <summary>Everything that was done, went wrong, and was said in one night, in the order of time.</summary>
    private static int Tell(NightOptions options, ulong seed, TextWriter output, TextWriter trouble)
    {
        if (Plans(options).FirstOrDefault(plan => plan.Seed == seed) is not { } night)
        {
            trouble.WriteLine($"No night of this set has the seed {seed}; raise --sound or --each.");
            return 2;
        }

        var told = new List<(double Seconds, string Text)>();
        double begins = 0;
        foreach (NightSession session in night.Sessions)
        {
            told.AddRange(session.Script.Steps.Select(step => (begins + step.AtSeconds, $"    {step.Act}")));
            told.AddRange(session.Script.Faults.Select(fault => (begins + fault.StartSeconds, $"    {fault}")));
            begins += session.Script.LengthSeconds;
        }

        told.AddRange(NightRun.Lines(night).Select(line =>
            (line.Seconds, $"{line.Line.Phase} {line.Line.Severity} {line.Line.Kind} ({line.Line.Cause}): {line.Line.Text}")));
        output.WriteLine(FormattableString.Invariant(
            $"{night.Cause}, {night.Pace}, {night.Detail}: onset {night.OnsetSeconds:0.0} s, visible {night.VisibleSeconds:0.0} s, end {night.EndSeconds:0.0} s, {night.SizeInTolerances:0.00} tolerances"));
        foreach ((double seconds, string text) in told.OrderBy(t => t.Seconds))
        {
            output.WriteLine(FormattableString.Invariant($"{seconds,9:0.0} {text}"));
        }

        return 0;
    }

    /// <summary>Every fault of every night must get beyond its tolerance while it lasts, on a tape that runs.</summary>
    private static void HoldPlans(TextWriter output, int each)
    {
        List<NightPlan> plans = Plans(new NightOptions { FirstSeed = TuningSeeds, SoundNights = 0, NightsPerCause = each });
        foreach (NightPlan plan in plans)
        {
            bool runs = plan.Pace == NightPace.Weeks || plan.StopSeconds.Any(stop => stop > plan.EndSeconds);
            if (!(plan.OnsetSeconds <= plan.VisibleSeconds && plan.VisibleSeconds < plan.EndSeconds && plan.EndSeconds <= plan.LengthSeconds && runs))
            {
                throw new InvalidOperationException(FormattableString.Invariant(
                    $"{plan.Cause}, seed {plan.Seed}: onset {plan.OnsetSeconds}, visible {plan.VisibleSeconds}, end {plan.EndSeconds}, night {plan.LengthSeconds} s."));
            }
        }

        output.WriteLine(FormattableString.Invariant(
            $"{plans.Count} plans: each fault is visible, at the latest {plans.Max(plan => plan.VisibleSeconds - plan.OnsetSeconds) / 3600:0.0} h after its onset; nights of {plans.Min(plan => plan.LengthSeconds) / 3600:0.0} to {plans.Max(plan => plan.LengthSeconds) / 3600:0.0} h."));
    }

    private static void HoldAgainstRecorder(TextWriter output, NightPlan plan)
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        var recorder = new RigRecorder(NightRun.Bench, plan.Sessions[0].Script, plan.Seed, UtcText.ToNanoseconds(QuantisedBench.Begin));
        foreach (EngineInput input in recorder.Record(TimeSpan.FromSeconds(plan.LengthSeconds)))
        {
            engine.Apply(input, lines);
        }

        string[] ours = [.. NightRun.Lines(plan).Select(line => Told(line.Line))];
        string[] theirs = [.. lines.Select(Told)];
        output.WriteLine(ours.SequenceEqual(theirs)
            ? $"The same {ours.Length} finding lines as by the recorder and its merge."
            : throw new InvalidOperationException($"{ours.Length} finding lines, and {theirs.Length} by the recorder and its merge:\n{string.Join('\n', ours.Except(theirs).Concat(theirs.Except(ours)))}"));

        static string Told(FindingLine line) => System.Text.Encoding.UTF8.GetString(FindingJson.ToUtf8(line));
    }

    private static List<NightResult> Judge(NightOptions options, TextWriter trouble)
    {
        List<NightPlan> plans = Plans(options);
        Dictionary<ulong, NightResult> done = options.Results is { } folder ? ReadAll(folder, trouble) : [];
        List<NightPlan> todo = options.TableOnly ? [] : [.. plans.Where((plan, i) => i % options.Parts == options.Part - 1 && !done.ContainsKey(plan.Seed))];
        using StreamWriter? file = options.Results is { } into && todo.Count > 0 ? Append(into, options) : null;
        var gate = new Lock();
        int judged = 0;
        Parallel.ForEach(
            System.Collections.Concurrent.Partitioner.Create(todo, System.Collections.Concurrent.EnumerablePartitionerOptions.NoBuffering),
            new ParallelOptions { MaxDegreeOfParallelism = options.Threads },
            plan =>
            {
                NightResult result = Play(plan);
                lock (gate)
                {
                    done[plan.Seed] = result;
                    file?.WriteLine(result.ToLine());
                    file?.Flush();
                    if (++judged % 20 == 0)
                    {
                        trouble.WriteLine(FormattableString.Invariant($"{judged} of {todo.Count} nights"));
                    }
                }
            });
        return [.. plans.Select(plan => done.GetValueOrDefault(plan.Seed)).OfType<NightResult>()];
    }

    private static List<NightPlan> Plans(NightOptions options)
    {
        var plans = new List<NightPlan>();
        for (int i = 0; i < options.SoundNights && options.Only is null or NightCauses.Sound; i++)
        {
            plans.Add(NightPlan.OfSound(options.FirstSeed + (ulong)i, options.SoundHours));
        }

        for (int c = 0; c < NightCauses.All.Count; c++)
        {
            for (int i = 0; i < options.NightsPerCause && (options.Only is null || options.Only == NightCauses.All[c].Slug); i++)
            {
                plans.Add(NightPlan.Of(NightCauses.All[c], options.FirstSeed + (SeedsPerCause * (ulong)(c + 1)) + (ulong)i, smoke: false));
            }
        }

        return plans;
    }

    private static NightResult Play(NightPlan plan)
    {
        long start = Stopwatch.GetTimestamp();
        IReadOnlyList<NightLine> lines = NightRun.Lines(plan);
        return NightResult.Of(plan, lines, Math.Round(Stopwatch.GetElapsedTime(start).TotalSeconds, 2));
    }

    /// <summary>The nights that this build has judged already, by seed; a line cut short by a kill is left out.</summary>
    private static Dictionary<ulong, NightResult> ReadAll(string folder, TextWriter trouble)
    {
        var results = new Dictionary<ulong, NightResult>();
        int others = 0;
        foreach (string path in Directory.Exists(folder) ? Directory.GetFiles(folder, "*.jsonl").Order(StringComparer.Ordinal) : Enumerable.Empty<string>())
        {
            foreach (string line in File.ReadLines(path).Where(line => line.EndsWith('}')))
            {
                NightResult result = NightResult.FromLine(line);
                others += result.Build == NightResult.ThisBuild ? 0 : 1;
                if (result.Build == NightResult.ThisBuild)
                {
                    results[result.Seed] = result;
                }
            }
        }

        if (others > 0)
        {
            trouble.WriteLine(FormattableString.Invariant($"{others} nights in {folder} are of another build and not counted."));
        }

        return results;
    }

    private static StreamWriter Append(string folder, NightOptions options)
    {
        Directory.CreateDirectory(folder);
        string path = Path.Combine(folder, FormattableString.Invariant($"part-{options.Part}-of-{options.Parts}.jsonl"));
        var writer = new StreamWriter(path, append: true);
        if (new FileInfo(path).Length > 0)
        {
            writer.WriteLine(); // behind a line that a kill may have cut short
        }

        return writer;
    }
}

/// <summary>What the command was asked for.</summary>
internal sealed record NightOptions
{
    public required ulong FirstSeed { get; init; }

    public int SoundNights { get; init; } = 100;

    public double SoundHours { get; init; } = 12;

    public int NightsPerCause { get; init; } = 20;

    /// <summary>A cause's slug, or 'sound'; null: all.</summary>
    public string? Only { get; init; }

    /// <summary>Folder of results that are kept and not judged again.</summary>
    public string? Results { get; init; }

    /// <summary>From 1.</summary>
    public int Part { get; init; } = 1;

    public int Parts { get; init; } = 1;

    public int Threads { get; init; } = 1;

    /// <summary>Judge nothing, print what the folder holds.</summary>
    public bool TableOnly { get; init; }

    /// <summary>Only this night, told in full.</summary>
    public ulong? Tell { get; init; }

    public static NightOptions? Parse(string[] arguments, bool heldOut, out string mistake)
    {
        var options = new NightOptions
        {
            FirstSeed = heldOut ? NightFigures.HeldOutSeeds : NightFigures.TuningSeeds,
            SoundNights = heldOut ? 100 : 20,
            NightsPerCause = heldOut ? 20 : 6,
        };
        mistake = "";
        for (int i = 0; i < arguments.Length; i += 2)
        {
            string value = i + 1 < arguments.Length ? arguments[i + 1] : "";
            NightOptions? with = (arguments[i], int.TryParse(value, NumberStyles.None, CultureInfo.InvariantCulture, out int number)) switch
            {
                ("--sound", true) => options with { SoundNights = number },
                ("--each", true) => options with { NightsPerCause = number },
                ("--threads", true) when number > 0 => options with { Threads = number },
                ("--judge", _) when value is "no" => options with { TableOnly = true },
                ("--from", true) when !heldOut && number is >= (int)NightFigures.TuningSeeds and < (int)NightFigures.HeldOutSeeds => options with { FirstSeed = (ulong)number },
                ("--tell", true) => options with { Tell = (ulong)number },
                ("--hours", _) when double.TryParse(value, NumberStyles.Float, CultureInfo.InvariantCulture, out double hours) && hours > 0.1 => options with { SoundHours = hours },
                ("--only", _) when value == NightCauses.Sound || NightCauses.All.Any(cause => cause.Slug == value) => options with { Only = value },
                ("--results", _) when value.Length > 0 => options with { Results = value },
                ("--part", _) when value.Split('/') is [var part, var parts]
                    && int.TryParse(part, CultureInfo.InvariantCulture, out int p) && int.TryParse(parts, CultureInfo.InvariantCulture, out int n) && p >= 1 && p <= n
                    => options with { Part = p, Parts = n },
                _ => null,
            };
            if (with is null)
            {
                mistake = $"'{arguments[i]} {value}' is not understood; write --sound NIGHTS, --hours HOURS, --each NIGHTS, --only CAUSE, --results FOLDER, --part 1/2, --judge no, --threads NUMBER, --tell SEED, and for tuning --from SEED, of a set that was told before.";
                return null;
            }

            options = with;
        }

        return options;
    }
}
