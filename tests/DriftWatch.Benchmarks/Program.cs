using System.Globalization;
using DriftWatch.Benchmarks;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Benchmarks.Mathematics;
using DriftWatch.Benchmarks.Nights;
using DriftWatch.Benchmarks.Storage;
using DriftWatch.Benchmarks.Watching;

// The helpers that a benchmark starts as processes of their own.
if (args is ["reopen-write", var written, var hours])
{
    ReopenFigures.Write(written, double.Parse(hours, CultureInfo.InvariantCulture));
    return 0;
}

if (args is ["reopen-open", var opened, var how])
{
    ReopenFigures.Open(opened, how == "other-build");
    return 0;
}

// Hundreds of nights: with options of its own, and on request only.
if (args is ["nights" or "nights-tuning", .. var options])
{
    return NightFigures.Command(heldOut: args[0] == "nights", options, Console.Out, Console.Error);
}

var benchmarks = new List<(string Name, Action<TextWriter, Size> Run)>
{
    ("path", PathFigures.Run),
    ("judge", JudgeFigures.Run),
    ("flapping", FlappingFigures.Run),
    ("reopen", ReopenFigures.Run),
    ("service", ServiceFigures.Run),
    ("page", PageFigures.Run),
    ("live", LiveFigures.Run),
    ("report", ReportFigures.Run),
    ("peers", PeerFigures.Run),
    ("storage", StorageFigures.Run),
    ("mirror", MirrorFigures.Run),
    ("mirror-site", MirrorSiteFigures.Run),
    ("mirror-beside", MirrorBesideFigures.Run),
    ("drift", DriftFigures.Run),
    ("drift-long", DriftFigures.Long),
    ("drift-night", DriftFigures.Night),
    ("drift-mixed", DriftFigures.Mixed),
    ("watch-drift-sound", DriftWatchNights.Sound),
    ("watch-drift", DriftWatchNights.Drifting),
    ("watch-wear", HeadWearFigures.Run),
    ("notices", NoticeFigures.Run),
    ("noise", NoiseFigures.Run),
    ("calibration", CalibrationFigures.Run),
    ("charts", ChartFigures.Run),
    ("change-time-0", ChangeFigures.Coverage(0)),
    ("change-time-0.3", ChangeFigures.Coverage(0.3)),
    ("change-time-0.7", ChangeFigures.Coverage(0.7)),
    ("change-time-0.9", ChangeFigures.Coverage(0.9)),
    ("change-claims", ChangeFigures.FalseClaims),
    ("change-speed", ChangeFigures.Speed),
    ("forecast", ForecastFigures.Run),
    ("forecast-reading", ForecastFigures.Readings),
    ("trend-speed", TrendSpeedFigures.Run),
    ("recovery", RecoveryFigures.Run),
    ("lead-lag", RelationFigures.Run),
    ("known-cause", RelationFigures.Causes),
    ("nights-smoke", NightFigures.Smoke),
    ("nights-tolerances", NightTolerances.Run),
    ("periods", PeriodFigures.Run),
    ("event-speed", PeriodFigures.Speed),
    ("timing", TimingFigures.Run),
    ("leak-down", PneumaticFigures.LeakDowns),
    ("supply-cycles", PneumaticFigures.SupplyCycles),
    ("rf-heads", RfHeadFigures.Run),
    ("equaliser", RfHeadFigures.Equaliser),
};
args = RowFilter.From(args);
Size size = args is ["smoke"] or ["smoke", ..] ? Size.Smoke : Size.Full;
string[] names = size == Size.Smoke ? args[1..] : args;
if (names is ["all"] || (size == Size.Smoke && names.Length == 0))
{
    names = [.. benchmarks.Select(b => b.Name)];
}

if (names.Length == 0 || names.Except(benchmarks.Select(b => b.Name)).Any())
{
    Console.Error.WriteLine($"Name what to measure: all, or some of {string.Join(", ", benchmarks.Select(b => b.Name))}; 'smoke' before it makes it small, '--rows PATTERN' runs the matching rows of a simulation only.");
    return 2;
}

Console.WriteLine($"{TimeProvider.System.GetUtcNow():yyyy-MM-dd HH:mm} UTC, {Environment.ProcessorCount} cores, .NET {Environment.Version}");
int failed = 0;
foreach ((string name, Action<TextWriter, Size> run) in benchmarks.Where(b => names.Contains(b.Name)))
{
    Console.WriteLine($"-- {name}; load of the machine before it {Load()}");
    try
    {
        run(Console.Out, size);
    }
#pragma warning disable CA1031 // whatever stopped one, the others are still worth their figures
    catch (Exception exception)
#pragma warning restore CA1031
    {
        Console.Error.WriteLine($"{name} failed: {exception}");
        failed++;
    }
}

return failed == 0 ? 0 : 1;

static string Load() => File.Exists("/proc/loadavg") ? File.ReadAllText("/proc/loadavg").Split(' ')[0] : "unknown";
