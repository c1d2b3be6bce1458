using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>
/// Gathers the findings of one trouble into an episode and says what its cause probably is: one finding with one cause,
/// however many channels moved. A new finding joins an episode whose cause explains it, or one that is still unfolding;
/// else it begins another, which is weighed without what the first explains. The cause is weighed from half a second
/// after the first finding, so that what comes together is seen together, every second in the first minute and when a
/// finding has joined. It is said when it is sure enough or patience ends, and again only when another cause has become
/// more probable, never because a fault that goes back shows less of itself. It ends with the last of its findings. A
/// single finding of which no cause is known stands for itself.
/// </summary>
internal sealed class CauseFinder
{
    // Source: derived, what is sudden has reached its other channels by then, and it leaves a sudden fault's finding within its delay and half a second.
    private static readonly TimeSpan FirstLook = TimeSpan.FromSeconds(0.4);
    private static readonly TimeSpan LookAgain = TimeSpan.FromSeconds(1);

    // It is said at once when it is this sure, and otherwise when it has had this time to become surer. Source: common practice, no source.
    private const double SureEnough = 0.8;
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    // A drift is said with an hour and more to go: its cause may become surer first. Source: common practice, no source.
    private static readonly TimeSpan PatienceWithDrifts = TimeSpan.FromMinutes(10);

    // A pattern unfolds within this time; afterwards only a new finding is news. Source: common practice, no source.
    private static readonly TimeSpan Unfolds = TimeSpan.FromSeconds(60);

    // Source: derived, a median of eight follows after five.
    private const int CyclesToUnfold = 5;

    // A value at its limit crosses it again and again. Source: common practice, no source.
    private static readonly TimeSpan EndsAfter = TimeSpan.FromSeconds(60);

    // While nothing fits, what comes within this time is of the same trouble. Source: common practice, no source.
    private static readonly TimeSpan SameTrouble = TimeSpan.FromMinutes(10);

    // Another cause is said when it is more probable by this. Source: common practice, no source.
    private const double ChangesMind = 0.15;

    private readonly SubjectReader _reader = new();
    private readonly List<Episode> _episodes = [];

    /// <summary>The times of trouble under way, in the order in which they began.</summary>
    public IReadOnlyList<Episode> Episodes => _episodes;

    public void Seat(ChannelWatch[] watched) => _reader.Seat(watched);

    public void OnTick(WatchContext context)
    {
        _reader.Follow(context);
        Gather(context);
        for (int i = _episodes.Count - 1; i >= 0; i--)
        {
            Episode episode = _episodes[i];
            if (episode.IsOver(context.Desk, context.Now, EndsAfter))
            {
                if (episode.Finding is { } open)
                {
                    context.Desk.End(open, episode.OverSince, "all-over", open.Line.Text);
                }

                _episodes.RemoveAt(i);
            }
            else if (context.Now >= episode.Due)
            {
                episode.Due = context.Now + LookAgain;
                Weigh(context, episode);
            }
        }
    }

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        int count = archive.SyncCount(_episodes.Count);
        for (int i = 0; i < count; i++)
        {
            if (!archive.IsWriting)
            {
                _episodes.Add(new Episode());
            }

            _episodes[i].Sync(archive, desk);
        }
    }

    /// <summary>Whether a finding tells of trouble, and not of what is only for the record.</summary>
    public static bool IsEvidence(FindingLine line) => line.Severity >= Severity.Advisory && line.Kind != FindingKinds.Cause;

    /// <summary>Whether a finding tells of DriftWatch's own store or mirrors: its cause is known as it comes.</summary>
    public static bool IsOfDriftWatch(FindingLine line) => line.Kind is FindingKinds.StoreFailing or FindingKinds.MirrorFailing;

    /// <summary><c>kind.subject</c> of a finding, from its id.</summary>
    public static string TagOf(FindingLine line)
    {
        int from = line.Id.IndexOf('.', StringComparison.Ordinal) + 1; // a bench's id is a slug
        return line.Id[from..line.Id.LastIndexOf('.')];
    }

    private void Gather(WatchContext context)
    {
        foreach (OpenFinding open in context.Desk.Open)
        {
            FindingLine line = open.Line;
            if (!IsEvidence(line) || _episodes.Exists(e => e.Has(line.Id)))
            {
                continue;
            }

            string? apart = IsOfDriftWatch(line) ? TagOf(line) : null;
            Episode? home = apart is null ? HomeOf(context, line) : _episodes.Find(e => e.Apart == apart);
            if (home is null)
            {
                home = Episode.Begin(context.Now, context.Now + FirstLook, apart);
                _episodes.Add(home);
            }

            home.Join(line);
        }
    }

    private Episode? HomeOf(WatchContext context, FindingLine line) =>
        _episodes.Find(e => !e.IsApart && (!e.IsWaiting || e.IsAbout(line.Channel)) && Explains(e, line))
        ?? _episodes.Find(e => !e.IsApart && !e.IsWaiting && context.Now - e.Since <= Unfolds)
        ?? _episodes.Find(e => !e.IsApart && !e.IsWaiting && e.Cause is null or Candidate.Unknown && context.Now - e.Since <= SameTrouble);

    private bool Explains(Episode episode, FindingLine line)
    {
        if (SignatureTable.Of(episode.Cause) is not { } signature)
        {
            return false;
        }

        if (IsOfReadings(line))
        {
            return signature.Explains(Subjects.Readings);
        }

        if (line.Kind == FindingKinds.Wear)
        {
            return signature.Explains(Subjects.Wear);
        }

        // Without air there is no vacuum, no hold, no picture: a cause that takes the air explains all that hangs on it.
        bool takesAll = signature.TakesThePicture || ((signature.TakesTheAir || signature.Explains("regulated-air")) && _reader.AirIsLow());
        return _reader.Of(line) is { } watch && !IsOfAnotherHead(episode, watch)
            && (signature.Explains(SubjectReader.SubjectOf(watch)) || (signature.TakesTheAir && watch.Definition.Role == ChannelRole.RegulatedAir) || (takesAll && SubjectReader.IsOfTheTape(watch)));
    }

    /// <summary>A cause said of one head explains nothing of another.</summary>
    private bool IsOfAnotherHead(Episode episode, ChannelWatch watch) =>
        episode.Head is { } head
        && (watch.Definition.Head is { } other ? other != head : SubjectReader.SubjectOf(watch) == SubjectReader.Spread && _reader.WorstHead() != head);

    private void Weigh(WatchContext context, Episode episode)
    {
        TimeSpan unfolds = UnfoldsWithin(episode);
        TimeSpan patience = episode.HasOnlyDrifts ? PatienceWithDrifts : Patience;
        TimeSpan looks = episode.Finding is null && patience + LookAgain > unfolds ? patience + LookAgain : unfolds;
        if (episode.IsApart || episode.IsWaiting || (!episode.HasNews && context.Now - episode.Since > looks))
        {
            return;
        }

        // What another episode explains says nothing about this one.
        Signature[] others = [.. _episodes.Where(e => e != episode && e.Finding is not null && !e.IsWaiting).Select(e => SignatureTable.Of(e.Cause)).OfType<Signature>()];
        TimeSpan cycle = _reader.CompressorCycle();
        Observation Seen(string subject)
        {
            Observation seen = Array.Exists(others, o => o.Explains(subject)) ? Observation.Unseen : _reader.Read(subject, context);

            // Told by cycles: before they are over it shows how things were.
            bool isOld = !episode.HasDrift && context.Now - episode.Start < Subjects.CyclesToTell(subject) * cycle && Math.Abs(seen.Value) < 3 * Subjects.UnrestOf(subject);
            return isOld ? Observation.Unseen : seen;
        }

        List<Candidate> candidates = CauseScale.Weigh(Signatures(context, episode), Seen, context.Now, Said(context, episode));
        Candidate best = candidates[0];
        if (episode.Finding is not { } open)
        {
            // Ids name kind, cause and input: two of one cause can't be said at one tick, so the second waits for the next look.
            bool taken = _episodes.Exists(e => e.Finding is { } said && said.Line.RaisedAt == context.Now && e.Cause == best.Cause);
            bool isTime = best.Probability >= SureEnough || context.Now - episode.Since >= patience;
            if (!taken && isTime && (best.Signature is not null || episode.Count > 1))
            {
                episode.Named(best, CauseWords.Head(best.Signature, _reader, context));
                episode.Finding = context.Desk.Raise(CauseWords.Facts(context, _reader, episode, candidates));
            }
            else if (!taken && isTime)
            {
                episode.Weighed();
            }

            return;
        }

        double now = candidates.Find(c => c.Cause == episode.Cause).Probability;

        // What was sure is not unsaid because the fault ran its course: with the supply gone the air is as restless as with water in it.
        TimeSpan settles = episode.Probability >= SureEnough ? Unfolds : unfolds;
        bool young = episode.Cause == Candidate.Unknown || (!episode.IsFading && context.Now - episode.Since <= settles);
        bool another = young && best.Cause != episode.Cause && best.Signature is not null && best.Probability > Math.Max(0.5, now + ChangesMind);
        bool surer = best.Cause == episode.Cause && best.Probability > episode.Probability + ChangesMind;
        bool worse = episode.Worst > open.Line.Severity;
        if (another || surer)
        {
            episode.Named(best, CauseWords.Head(best.Signature, _reader, context));
        }

        if (another || worse || ((surer || episode.HasNews) && context.Desk.MayUpdate(open)))
        {
            context.Desk.Update(open, CauseWords.Facts(context, _reader, episode, candidates));
        }

        episode.Weighed();
    }

    /// <summary>What the compressor's cycle tells takes some cycles to unfold.</summary>
    private TimeSpan UnfoldsWithin(Episode episode) =>
        SignatureTable.Of(episode.Cause) is { } said && Subjects.CyclesToTell(said.First) > 0 ? Unfolds + (CyclesToUnfold * _reader.CompressorCycle()) : Unfolds;

    /// <summary>Where all that is said is that readings are missing, no cause in the machine comes into question.</summary>
    private static IReadOnlyList<Signature> Signatures(WatchContext context, Episode episode) =>
        context.Desk.Open.All(f => !episode.Has(f.Line.Id) || IsOfReadings(f.Line)) ? SignatureTable.OfReadings : SignatureTable.All;

    private static bool IsOfReadings(FindingLine line) => line.Kind is FindingKinds.Stale or FindingKinds.SensorFault or FindingKinds.InstrumentSilent;

    /// <summary>The subjects that the episode's open findings are about.</summary>
    private List<string> Said(WatchContext context, Episode episode)
    {
        var said = new List<string>();
        foreach (OpenFinding open in context.Desk.Open)
        {
            if (episode.Has(open.Line.Id))
            {
                said.Add(IsOfReadings(open.Line) ? Subjects.Readings : open.Line.Kind == FindingKinds.Wear ? Subjects.Wear : _reader.Of(open.Line) is { } watch ? SubjectReader.SubjectOf(watch) : "");
            }
        }

        return said;
    }
}
