using System.Reflection;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Plots;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using DriftWatch.Watch;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Web.Api.Spans;

namespace DriftWatch.Reports.Dossiers;

/// <summary>Reads a dossier from a bench's store, while a service may go on writing to it. The same span of the same store gives the same dossier.</summary>
internal static partial class DossierReader
{
    /// <summary>Finding lines that a report holds, the newest. Source: our own choice, above what a page of paper is read for; a package has all.</summary>
    private const int MostLines = 20_000;

    /// <summary>A longer hole in what is stored is a gap; a commit's worth is not. Source: our own choice, above the second between two commits.</summary>
    private const long GapFrom = 5 * EngineTime.NanosecondsPerSecond;

    /// <summary>How far before the span lines are read for the states of then; what lasted longer is found all the same. Source: our own choice, as the page of the night has it.</summary>
    private static readonly TimeSpan Before = TimeSpan.FromDays(1);

    private static readonly string Version =
        typeof(WatchEngine).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()!.InformationalVersion;

    /// <summary>The dossier of a span that belongs to no transfer.</summary>
    /// <param name="folder">The bench's store.</param>
    /// <param name="fromUtc">Begin; null: where the store begins.</param>
    /// <param name="toUtc">End, not in it; null: where the store ends.</param>
    /// <param name="cancel">Ends it.</param>
    /// <exception cref="StoreException">The folder holds no store, or can't be read.</exception>
    /// <exception cref="InvalidDataException">Nothing was recorded in the span, or part of it is missing.</exception>
    public static Dossier OfSpan(string folder, long? fromUtc, long? toUtc, CancellationToken cancel = default) =>
        OfSpan(folder, fromUtc, toUtc, MostLines, cancel);

    /// <summary>The same with so many finding lines at most.</summary>
    internal static Dossier OfSpan(string folder, long? fromUtc, long? toUtc, int mostLines, CancellationToken cancel)
    {
        using var reader = new BenchReader(folder);
        IReadOnlyList<UtcStretch> watched = AlarmBook.WatchedIn(reader);
        if (watched.Count == 0)
        {
            throw new InvalidDataException($"{folder}: nothing was recorded here yet.");
        }

        var span = new UtcStretch(fromUtc ?? watched.Min(w => w.FromUtc), toUtc ?? watched.Max(w => w.ToUtc) + 1);
        return Read(folder, reader, span, entered: null, transfer: null, mostLines, cancel);
    }

    private static Dossier Read(
        string folder, BenchReader reader, UtcStretch span, DossierRun? entered, DossierTransfer? transfer, int mostLines, CancellationToken cancel)
    {
        AnchorTable anchors = reader.ReadAnchors();
        EngineTime from = anchors.FromUtcNanoseconds(span.FromUtc);
        EngineTime to = anchors.FromUtcNanoseconds(span.ToUtc);
        List<FindingLine> lines = [.. reader.FindingsBetween(from, to, Before, mostLines, out long leftOut).Select(f => f.Line)];
        List<StateStretch> states = [.. SpanEventsAnswer.StatesOf(lines, span.FromUtc, span.ToUtc).Select(s => new StateStretch(s.State, s.Stretch))];
        DossierRun run = entered ?? RunOf(span, states);
        List<TakenBaseline> baselines = [.. reader.Baselines().Where(b => b.UtcNanoseconds < run.Stretch.ToUtc)];
        TakenBaseline? baseline = baselines.Count > 0 ? baselines[^1] : null;
        StoredBench? inForce = reader.BenchVersions().LastOrDefault(b => b.At < to);
        BenchDefinition bench = inForce?.Bench ?? throw new InvalidDataException("No bench was in force in this span: choose a later one.");

        List<AlarmTransition> book = [.. reader.AlarmsOver(span.FromUtc, span.ToUtc, Before).Select(a => a.Line)];
        var alarmOf = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (AlarmTransition line in book)
        {
            alarmOf[line.Finding ?? line.FirstOut] = line.Id;
        }

        var pass = new DossierPass(bench, utc => utc >= run.Stretch.FromUtc && utc < run.Stretch.ToUtc);
        using var feed = new SpanSource(folder, from, to);
        RecordFacts record = pass.Read(feed, cancel);
        return new Dossier
        {
            Bench = bench,
            Span = span,
            Run = run,
            Transfer = transfer,
            Channels = [.. pass.Summaries.Select(s => s.Finish(run.Stretch.Nanoseconds / 1e9, Of(baseline, s.Channel)))],
            Turns = [.. pass.Turns()],
            States = states,
            Findings = [.. DossierFindings.Of(lines, span, run).Select(f => f with { Alarm = alarmOf.GetValueOrDefault(f.Line.Id) })],
            Notes = [.. DossierFindings.NotesOf(lines, span)],
            Alarms = [.. AlarmStory.Of(book).Where(a => IsIn(a, span))],
            Calibrations = [.. Calibrations(bench, pass.CalibrationsUsed, reader)],
            Baseline = baseline,
            LineUpTookBaseline = transfer?.Pass.LineUpEnded is { } ended && reader.Entries().FirstOrDefault(e => e.Entry.Id == ended.Entry.Id) is { } atEnd
                && baselines.Exists(b => b.Number == atEnd.Number && b.Standing == BaselineStanding.Confirmed),
            BaselineBefore = baselines.LastOrDefault(b => b.Number != baseline?.Number && b.Standing != BaselineStanding.Provisional)
                ?? baselines.LastOrDefault(b => b.Number != baseline?.Number),
            LinesLeftOut = leftOut,
            Unwatched = Gaps(AlarmBook.WatchedIn(reader), span),
            Record = record,
            Anchors = anchors,
            Software = Version,
        };
    }

    private static IEnumerable<DossierCalibration> Calibrations(
        BenchDefinition bench, IReadOnlyDictionary<(int Channel, int Version), Calibration> used, BenchReader reader)
    {
        ILookup<(int, int), Calibration> entered = reader.Calibrations().ToLookup(c => (c.Channel, c.Calibration.Version), c => c.Calibration);
        return bench.Channels.SelectMany(
            c => used.Where(u => u.Key.Channel == c.Key).Select(u => entered[u.Key].FirstOrDefault(u.Value)),
            (channel, calibration) => new DossierCalibration(channel, calibration, CalibrationDocument.Of(calibration)));
    }

    /// <summary>From the first lock, or from tape running where nothing locked, to the last instant with tape running.</summary>
    private static DossierRun RunOf(UtcStretch span, List<StateStretch> states)
    {
        List<StateStretch> tape = [.. states.Where(s => s.State is MachineState.Running or MachineState.Locked)];
        if (tape.Count == 0)
        {
            return new DossierRun(span, RunSource.Span, 0, "by the time since the span's begin, because no tape was seen to run");
        }

        long begin = tape.Where(s => s.State == MachineState.Locked).Select(s => s.Stretch.FromUtc).DefaultIfEmpty(tape[0].Stretch.FromUtc).First();
        return new DossierRun(
            new UtcStretch(begin, tape[^1].Stretch.ToUtc), RunSource.State, 0,
            "by the time since the machine was first seen to play, at the tape's nominal speed; stops and shuttling are not seen");
    }

    private static BaselineValue? Of(TakenBaseline? baseline, ChannelDefinition channel) =>
        baseline?.Values.FirstOrDefault(v => v.Channel == channel.Id && v.Unit == channel.Unit);

    private static bool IsIn(AlarmStory alarm, UtcStretch span) => alarm.RaisedUtc < span.ToUtc && (alarm.ReturnedUtc ?? long.MaxValue) >= span.FromUtc;

    /// <summary>What lies between the stretches that were stored, and at both ends.</summary>
    private static List<UtcStretch> Gaps(IReadOnlyList<UtcStretch> watched, UtcStretch span) => [.. span.Without(watched).Where(g => g.Nanoseconds > GapFrom)];
}
