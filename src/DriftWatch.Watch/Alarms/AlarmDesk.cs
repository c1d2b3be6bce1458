using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Diagnosis;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Alarms;

/// <summary>
/// Makes alarms of findings, and keeps those that are not in the state normal. One time of trouble (an
/// <see cref="Episode"/>) is one alarm, however many findings it has: its tag is that of the finding that came first, and
/// what comes later joins it. It is over when its trouble is, a minute after the last of its findings, so that a value at
/// its limit does not call a person again and again. What came and went between two ticks comes and goes as well.
/// </summary>
internal sealed partial class AlarmDesk
{
    private readonly List<Alarm> _alarms = [];
    private readonly List<string> _outOfService = [];
    private readonly List<FindingLine> _fresh = [];
    private List<AlarmTransition> _lines = [];
    private long _number;
    private int _place;

    /// <summary>The latest line of each alarm that is not in the state normal, in the order in which they first came.</summary>
    public IReadOnlyCollection<AlarmTransition> Open => [.. _alarms.Select(a => a.Latest).OfType<AlarmTransition>()];

    /// <summary>Set before each input is judged.</summary>
    public void Turn(long number, List<AlarmTransition> lines)
    {
        _number = number;
        _lines = lines;
        _place = 0;
    }

    /// <summary>Called for each finding line, at the input that made it.</summary>
    public void Hear(FindingLine line)
    {
        if (line.Phase == FindingPhase.Raised && (CauseFinder.IsEvidence(line) || IsUnwatched(line)))
        {
            _fresh.Add(line);
        }
        else if (line.Phase == FindingPhase.Ended && _alarms.Find(a => a.Has(line.Id)) is { } alarm)
        {
            alarm.EndedBy = line.Details.FirstOrDefault(d => d.Name == "endedBy").Word;
            alarm.Ended = CauseFinder.IsOfDriftWatch(line) ? line : null;
        }
    }

    /// <summary>Called on ticks, after the causes were weighed.</summary>
    public void OnTick(WatchContext context, IReadOnlyList<Episode> episodes)
    {
        if (_fresh.Count == 0 && _alarms.Count == 0 && episodes.Count == 0)
        {
            return;
        }

        foreach (Episode episode in episodes)
        {
            Follow(context, episode, episodes);
        }

        foreach (FindingLine line in _fresh)
        {
            if (IsUnwatched(line) || (context.Desk.Find(line.Id) is null && !episodes.Any(e => e.Has(line.Id))))
            {
                ComeAndGo(context, line);
            }
        }

        _fresh.Clear();
        for (int i = _alarms.Count - 1; i >= 0; i--)
        {
            Settle(context, _alarms[i], episodes);
            if (_alarms[i].IsForgettable)
            {
                _alarms.RemoveAt(i);
            }
        }
    }

    public void Sync(StateArchive archive)
    {
        archive.SyncNames(_outOfService);
        int count = archive.SyncCount(_alarms.Count);
        for (int i = 0; i < count; i++)
        {
            if (!archive.IsWriting)
            {
                _alarms.Add(new Alarm(""));
            }

            _alarms[i].Sync(archive);
        }

        // What was said since the last tick is heard again: a line goes by its JSON, whose instants are to the millisecond as the book's are.
        int fresh = archive.SyncCount(_fresh.Count);
        for (int i = 0; i < fresh; i++)
        {
            byte[]? line = archive.IsWriting ? FindingJson.ToUtf8(_fresh[i]) : null;
            archive.Sync(ref line);
            if (!archive.IsWriting)
            {
                _fresh.Add(FindingJson.Read(line!));
            }
        }
    }

    /// <summary>A stretch that nobody watched is over as it is told, and still asks for a person.</summary>
    private static bool IsUnwatched(FindingLine line) =>
        line.Kind == FindingKinds.Asleep || (line is { Kind: FindingKinds.NobodyWatching, Cause: "not-stopped-on-purpose" });

    private void Follow(WatchContext context, Episode episode, IReadOnlyList<Episode> episodes)
    {
        OpenFinding? first = null;
        OpenFinding? teller = null;
        AlarmPriority most = AlarmPriority.Low;
        foreach (OpenFinding open in context.Desk.Open)
        {
            if (!CauseFinder.IsEvidence(open.Line) || !episode.Has(open.Line.Id))
            {
                continue;
            }

            // One that is out of service leads only where there is no other.
            bool isQuiet = IsOutOfService(CauseFinder.TagOf(open.Line), open.Line.Channel);
            bool takesOver = first is not null && !isQuiet && IsOutOfService(CauseFinder.TagOf(first.Line), first.Line.Channel);
            AlarmPriority priority = AlarmPriorities.Of(open.Line, context.Find(open.Line.Channel)?.Definition.Role);
            first = first is null || takesOver ? open : first;
            if (teller is null || takesOver || (!isQuiet && priority > most))
            {
                (teller, most) = (open, priority);
            }
        }

        if (first is null || teller is null)
        {
            return;
        }

        Alarm alarm = AlarmOf(episode, first, episodes);
        if (!alarm.Condition.IsActive)
        {
            alarm.ForgetThreats();
            MakeWay(context, alarm, most, NewThreat(context, episode, alarm) is not null);
            alarm.Come(IdOf(context, alarm.Tag), first.Line, most);
            alarm.Cause = episode.IsApart ? first.Line.Cause : null; // of DriftWatch's own it is known as it comes
            JoinAll(context, episode, alarm, say: false);
            Take(context, alarm, AlarmEvent.BecameActive, AlarmStep.Raised, new Words { Teller = teller.Line, Finding = first.Line.Id });
        }
        else
        {
            if (alarm.Condition.IsSuppressed)
            {
                Take(context, alarm, AlarmEvent.Unsuppress, AlarmStep.Unsuppressed, new Words { Teller = teller.Line });
            }

            JoinAll(context, episode, alarm, say: true);
            OpenFinding? threat = NewThreat(context, episode, alarm);
            OpenFinding? worse = most > alarm.Priority ? teller : alarm.Condition.IsAnswered ? threat : null;
            if (worse is not null)
            {
                alarm.Priority = most > alarm.Priority ? most : alarm.Priority;
                alarm.ShelvedUntil = null;
                Take(context, alarm, AlarmEvent.Worsened, AlarmStep.Worsened, new Words { Teller = worse.Line, Finding = worse.Line.Id });
            }
        }

        if (episode.IsApart && first.Line.Cause != alarm.Cause)
        {
            alarm.Cause = first.Line.Cause;
            Write(context, alarm, AlarmStep.CauseNamed, alarm.Condition.State, new Words { Teller = first.Line, Finding = first.Line.Id });
        }

        if (episode.Finding is { } said && episode.Cause is { } cause && cause != alarm.Cause)
        {
            alarm.Cause = cause;
            Write(context, alarm, AlarmStep.CauseNamed, alarm.Condition.State, new Words { Teller = teller.Line, Finding = said.Line.Id, Text = said.Line.Text });
        }
    }

    /// <summary>The alarm that an episode is: the one it was, or that of the tag of what came first.</summary>
    private Alarm AlarmOf(Episode episode, OpenFinding first, IReadOnlyList<Episode> episodes)
    {
        string tag = CauseFinder.TagOf(first.Line);
        if (episode.Alarm is { } known && Find(known) is { } same && (!same.Condition.IsOutOfService || IsOutOfService(tag, first.Line.Channel)))
        {
            return same;
        }

        foreach (Episode other in episodes)
        {
            other.Alarm = other.Alarm == tag ? null : other.Alarm;
        }

        episode.Alarm = tag;
        return Seat(tag, first.Line.Channel);
    }

    private Alarm Seat(string tag, string? channel)
    {
        if (Find(tag) is { } known)
        {
            return known;
        }

        var alarm = new Alarm(tag);
        if (IsOutOfService(tag, channel))
        {
            alarm.Condition = alarm.Condition with { IsOutOfService = true };
        }

        _alarms.Add(alarm);
        return alarm;
    }

    private void JoinAll(WatchContext context, Episode episode, Alarm alarm, bool say)
    {
        foreach (OpenFinding open in context.Desk.Open)
        {
            if (CauseFinder.IsEvidence(open.Line) && episode.Has(open.Line.Id) && alarm.Join(open.Line.Id, CauseFinder.TagOf(open.Line)) && say)
            {
                Write(context, alarm, AlarmStep.Joined, alarm.Condition.State, new Words { Teller = open.Line, Finding = open.Line.Id });
            }
        }
    }

    /// <summary>
    /// Takes note of what the findings of an episode threaten; what is out of service threatens nothing. The first of them that
    /// threatens what the alarm has not told of, or null: four clogged heads are one thing to answer for, air lost after vacuum is another.
    /// </summary>
    private OpenFinding? NewThreat(WatchContext context, Episode episode, Alarm alarm)
    {
        OpenFinding? first = null;
        foreach (OpenFinding open in context.Desk.Open)
        {
            FindingLine line = open.Line;
            if (CauseFinder.IsEvidence(line) && episode.Has(line.Id)
                && AlarmPriorities.RuleOf(line, context.Find(line.Channel)?.Definition.Role) is { } rule
                && !IsOutOfService(CauseFinder.TagOf(line), line.Channel) && alarm.Threatens(rule.Consequence))
            {
                first ??= open;
            }
        }

        return first;
    }

    /// <summary>
    /// Before it comes anew: suppression ends, because it is judged again, and so does a shelf on which it was put for less.
    /// </summary>
    private void MakeWay(WatchContext context, Alarm alarm, AlarmPriority priority, bool threatensMore)
    {
        Take(context, alarm, AlarmEvent.Unsuppress, AlarmStep.Unsuppressed, new Words { Why = "came-again" });
        if (alarm.Condition.IsShelved && (threatensMore || priority > alarm.ShelvedPriority))
        {
            alarm.ShelvedUntil = null;
            Take(context, alarm, AlarmEvent.Unshelve, AlarmStep.Unshelved, new Words { Why = "came-worse" });
        }
    }

    private void ComeAndGo(WatchContext context, FindingLine line)
    {
        Alarm alarm = Seat(CauseFinder.TagOf(line), line.Channel);
        if (alarm.Condition.IsActive)
        {
            alarm.Join(line.Id, CauseFinder.TagOf(line));
            return;
        }

        ChannelRole? role = context.Find(line.Channel)?.Definition.Role;
        AlarmPriority priority = AlarmPriorities.Of(line, role);
        alarm.ForgetThreats();
        MakeWay(context, alarm, priority, AlarmPriorities.RuleOf(line, role) is { } rule && alarm.Threatens(rule.Consequence));
        alarm.Come(IdOf(context, alarm.Tag), line, priority);
        alarm.Join(line.Id, alarm.Tag);
        Take(context, alarm, AlarmEvent.BecameActive, AlarmStep.Raised, new Words { Teller = line, Finding = line.Id });
        Take(context, alarm, AlarmEvent.BecameInactive, AlarmStep.Returned, new Words { Teller = line, Finding = line.Id });
    }

    /// <summary>What befalls an alarm by time, by the machine's state, or because its trouble is over.</summary>
    private void Settle(WatchContext context, Alarm alarm, IReadOnlyList<Episode> episodes)
    {
        if (alarm.ShelvedUntil is { } until && until <= context.Now)
        {
            alarm.ShelvedUntil = null;
            Take(context, alarm, AlarmEvent.ShelvingTimeOver, AlarmStep.Unshelved, new Words { Why = "time-over" });
        }

        Episode? episode = episodes.FirstOrDefault(e => e.Alarm == alarm.Tag);
        if (alarm.Condition.IsActive && (episode is null || episode.IsWaiting) && alarm.EndedBy is { } endedBy)
        {
            if (endedBy == "out-of-service")
            {
                // A reload took its channel away: nothing more can be said of it.
                if (episode is not null)
                {
                    episode.Alarm = null;
                }

                AlarmState from = alarm.Condition.State;
                alarm.Condition = alarm.Condition with { IsOutOfService = true };
                Write(context, alarm, AlarmStep.TakenOutOfService, from, new Words { Why = "bench-reloaded" });
                alarm.Condition = AlarmCondition.Normal;
                return;
            }

            // What nobody has answered for is not quietened by a machine that stopped because of it: it returns as any other does.
            if (endedBy == "state-left" && alarm.Condition is { IsSuppressed: false, IsAcknowledged: true })
            {
                Take(context, alarm, AlarmEvent.Suppress, AlarmStep.Suppressed, new Words { Why = "state-left" });
            }
        }

        if (alarm.Condition.IsActive && episode is null)
        {
            alarm.ShelvedUntil = alarm.Condition.Shelving == Shelving.OneShotShelved ? null : alarm.ShelvedUntil;
            Take(context, alarm, AlarmEvent.BecameInactive, AlarmStep.Returned, new Words { Teller = alarm.Ended });
        }

        if (alarm.Condition is { IsSuppressed: true, IsActive: false } && context.Machine.State == alarm.JudgedIn)
        {
            Take(context, alarm, AlarmEvent.Unsuppress, AlarmStep.Unsuppressed, new Words { Why = "state-back" });
        }

        alarm.Forget(context.Desk);
    }

    private bool IsOutOfService(string tag, string? channel) => _outOfService.Contains(tag) || (channel is not null && _outOfService.Contains(channel));

    private Alarm? Find(string tag) => _alarms.Find(a => string.Equals(a.Tag, tag, StringComparison.Ordinal));

    private string IdOf(WatchContext context, string tag) => $"{context.Desk.BenchId}.alarm.{tag}.{_number}";

    /// <summary>Takes an event that can be taken, and writes its line; one that can't be taken is none.</summary>
    private void Take(WatchContext context, Alarm alarm, AlarmEvent what, AlarmStep step, Words words)
    {
        AlarmState from = alarm.Condition.State;
        if (alarm.Condition.TryTake(what, out AlarmCondition after, out _))
        {
            alarm.Condition = after;
            Write(context, alarm, step, from, words);
        }
    }

    private void Write(WatchContext context, Alarm alarm, AlarmStep step, AlarmState from, Words words)
    {
        AlarmTransition? last = alarm.Latest?.Id == alarm.Id ? alarm.Latest : null;
        FindingLine? teller = words.Teller;
        string? threat = teller is null ? null : AlarmPriorities.RuleOf(teller, context.Find(teller.Channel)?.Definition.Role)?.Words;
        var line = new AlarmTransition
        {
            Id = alarm.Id,
            Tag = alarm.Tag,
            Input = _number,
            Place = _place++,
            Bench = context.Desk.BenchId,
            BenchHash = context.Desk.BenchHash,
            Step = step,
            From = from,
            To = alarm.Condition.State,
            IsActive = alarm.Condition.IsActive,
            IsAcknowledged = alarm.Condition.IsAcknowledged,
            Priority = alarm.Priority,
            Consequence = step == AlarmStep.Joined ? last?.Consequence ?? threat : threat ?? last?.Consequence, // what joins is not what it calls for
            At = context.Now,
            AtUtc = context.Desk.Utc(context.Now),
            RaisedUtc = alarm.RaisedUtc,
            StartUtc = alarm.StartUtc,
            State = context.Machine.State,
            FirstOut = alarm.FirstOut,
            Finding = words.Finding,
            Findings = alarm.FindingCount,
            Channel = alarm.Channel,
            Value = teller is null ? last?.Value : teller.Value,
            Limit = teller is null ? last?.Limit : teller.Limit,
            Unit = teller is null ? last?.Unit : teller.Unit,
            LimitSource = teller is null ? last?.LimitSource : teller.LimitSource,
            Baseline = teller is null ? last?.Baseline : context.Find(teller.Channel)?.Baseline,
            OnTape = alarm.OnTape,
            Cause = alarm.Cause,
            By = words.By,
            Identity = words.Identity,
            Why = words.Why,
            ShelvedUntilUtc = alarm.ShelvedUntil is { } until ? context.Desk.Utc(until) : null,
            Text = words.Text ?? teller?.Text ?? last?.Text ?? "Nothing has been said of it yet.",
        };
        alarm.Latest = line;
        _lines.Add(line);
    }

    /// <summary>What a line says besides the alarm's own state. The teller is the finding whose numbers it carries.</summary>
    private readonly record struct Words
    {
        public FindingLine? Teller { get; init; }

        public string? Finding { get; init; }

        public string? By { get; init; }

        public string? Identity { get; init; }

        public string? Why { get; init; }

        public string? Text { get; init; }
    }
}
