using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch.Speaking;

/// <summary>
/// Turns what judges know into finding lines and keeps the findings that last. An id is
/// <c>bench.kind.subject.number</c>, where the number is that of the input that raised it: judging the same log again
/// gives the same ids. One judge raises at most one finding at one input, so ids are unique.
/// </summary>
internal sealed class FindingDesk
{
    /// <summary>Least time between two updates of one finding that only says 'worse'. Source: common practice, no source (a person can't read faster).</summary>
    public static readonly TimeSpan UpdateSpacing = TimeSpan.FromSeconds(10);

    private readonly List<OpenFinding> _open = [];
    private AnchorTable _anchors = new();
    private List<FindingLine> _lines = [];
    private string _benchId = "";
    private string _benchHash = "";
    private EngineTime _now;
    private long _number;
    private MachineState _state;
    private Func<long, TapePlace?> _placeAt = _ => null;

    public IReadOnlyList<OpenFinding> Open => _open;

    public string BenchId => _benchId.Length == 0 ? "bench" : _benchId;

    public string BenchHash => _benchHash;

    /// <summary>Set before each input is judged.</summary>
    public void Turn(EngineTime now, long number, List<FindingLine> lines)
    {
        _now = now;
        _number = number;
        _lines = lines;
    }

    public void Use(AnchorTable anchors) => _anchors = anchors;

    /// <param name="placeAt">Where the tape stood at an instant, nanoseconds since 1970; null where none runs for keeps.</param>
    public void Use(Func<long, TapePlace?> placeAt) => _placeAt = placeAt;

    public void Use(string benchId, string benchHash)
    {
        _benchId = benchId;
        _benchHash = benchHash;
    }

    public void Use(MachineState state) => _state = state;

    public OpenFinding Raise(FindingFacts facts)
    {
        var finding = new OpenFinding
        {
            Line = Compose(IdOf(facts), FindingPhase.Raised, facts, facts.Details, _now, end: null) with { OnTape = PlaceOf(facts) },
            SaidAt = _now,
            JudgeDetails = facts.Details,
        };
        _open.Add(finding);
        _lines.Add(finding.Line);
        return finding;
    }

    /// <summary>Something that is complete at once: one line, raised and over at the same instant.</summary>
    public void Note(FindingFacts facts) =>
        _lines.Add(Once(facts));

    /// <summary>The same, with what belongs to the line and not into its JSON.</summary>
    public void Note(FindingFacts facts, Func<FindingLine, FindingLine> complete) =>
        _lines.Add(complete(Once(facts)));

    /// <summary>Says what changed. The caller decides whether it is worth a line.</summary>
    public void Update(OpenFinding finding, FindingFacts facts)
    {
        finding.JudgeDetails = facts.Details;
        Say(finding, FindingPhase.Updated, facts, end: null);
    }

    /// <summary>Says again what is known, with a changed cause or with what a person did.</summary>
    public void Restate(OpenFinding finding, string? cause = null, string? text = null) =>
        Say(finding, FindingPhase.Updated, FactsOf(finding, cause, text), end: null);

    public void End(OpenFinding finding, FindingFacts facts, EngineTime end)
    {
        finding.JudgeDetails = facts.Details;
        Say(finding, FindingPhase.Ended, facts, end);
        _open.Remove(finding);
    }

    public void End(OpenFinding finding, EngineTime end, string endedBy, string text, string? cause = null)
    {
        finding.JudgeDetails = [.. finding.JudgeDetails, new FindingDetail("endedBy", null, endedBy)];
        Say(finding, FindingPhase.Ended, FactsOf(finding, cause, text), end);
        _open.Remove(finding);
    }

    /// <summary>Ends a finding whose channel a reload took away or changed: nothing more will be said of it.</summary>
    public void TakeOutOfService(ref OpenFinding? finding, EngineTime now)
    {
        if (finding is not null)
        {
            End(finding, now, "out-of-service", finding.Line.Text, cause: "out-of-service");
            finding = null;
        }
    }

    /// <summary>True when an update that only says 'worse' may be said now.</summary>
    public bool MayUpdate(OpenFinding finding) =>
        finding.ShelvedUntil is null && _now - finding.SaidAt >= UpdateSpacing;

    public OpenFinding? Find(string id) => _open.Find(f => string.Equals(f.Line.Id, id, StringComparison.Ordinal));

    /// <summary>Ends the shelving whose time is over; called on ticks.</summary>
    public void EndShelving()
    {
        foreach (OpenFinding finding in _open)
        {
            if (finding.ShelvedUntil is { } until && until <= _now)
            {
                finding.ShelvedUntil = null;
                finding.ShelvedBy = null;
                Restate(finding);
            }
        }
    }

    public void Sync(StateArchive archive)
    {
        string? id = _benchId;
        string? hash = _benchHash;
        archive.Sync(ref id);
        archive.Sync(ref hash);
        archive.Sync(ref _state);
        _benchId = id ?? "";
        _benchHash = hash ?? "";
        int count = archive.SyncCount(_open.Count);
        for (int i = 0; i < count; i++)
        {
            if (archive.IsWriting)
            {
                FindingArchive.Sync(archive, _open[i]);
            }
            else
            {
                _open.Add(FindingArchive.Sync(archive, null));
            }
        }
    }

    /// <summary>A judge's reference to its finding, as the place in the list of those that last.</summary>
    public void Sync(StateArchive archive, ref OpenFinding? finding)
    {
        int place = finding is null ? -1 : _open.IndexOf(finding);
        archive.Sync(ref place);
        if (place >= _open.Count)
        {
            throw new FormatException($"The snapshot refers to open finding {place} of {_open.Count}.");
        }

        finding = place < 0 ? null : _open[place];
    }

    private static FindingFacts FactsOf(OpenFinding finding, string? cause, string? text) => new()
    {
        Kind = finding.Line.Kind,
        Channel = finding.Line.Channel,
        Severity = finding.Line.Severity,
        Start = finding.Line.Start,
        Value = finding.Line.Value,
        Limit = finding.Line.Limit,
        Unit = finding.Line.Unit,
        LimitSource = finding.Line.LimitSource,
        Cause = cause ?? finding.Line.Cause,
        Text = text ?? finding.Line.Text,
        Details = finding.JudgeDetails,
    };

    private FindingLine Once(FindingFacts facts) => Compose(IdOf(facts), FindingPhase.Raised, facts, facts.Details, _now, end: _now) with { OnTape = PlaceOf(facts) };

    private TapePlace? PlaceOf(FindingFacts facts) => _placeAt(Utc(facts.Start));

    private void Say(OpenFinding finding, FindingPhase phase, FindingFacts facts, EngineTime? end)
    {
        finding.Line = Compose(finding.Line.Id, phase, facts, WithPeople(finding), finding.Line.RaisedAt, end) with { OnTape = finding.Line.OnTape };
        finding.SaidAt = _now;

        // A judge and the end of a shelving can both speak at one input: a line is kept once by id, phase and input, so the
        // later one, which knows more, stands for both.
        int former = _lines.Count - 1;
        while (former >= 0 && _lines[former].Input == _number && (_lines[former].Phase != phase || _lines[former].Id != finding.Line.Id))
        {
            former--;
        }

        if (former >= 0 && _lines[former].Input == _number)
        {
            _lines[former] = finding.Line;
        }
        else
        {
            _lines.Add(finding.Line);
        }
    }

    private IReadOnlyList<FindingDetail> WithPeople(OpenFinding finding)
    {
        if (finding.AcknowledgedBy is null && finding.ShelvedUntil is null)
        {
            return finding.JudgeDetails;
        }

        var details = new List<FindingDetail>(finding.JudgeDetails);
        if (finding.AcknowledgedBy is { } by)
        {
            details.Add(new FindingDetail("acknowledgedBy", null, by));
        }

        if (finding.ShelvedUntil is { } until)
        {
            details.Add(new FindingDetail("shelvedBy", null, finding.ShelvedBy));
            details.Add(new FindingDetail("shelvedUntil", null, UtcText.FromNanoseconds(Utc(until))));
        }

        return details;
    }

    private string IdOf(FindingFacts facts) =>
        $"{BenchId}.{facts.Kind}.{facts.Channel ?? facts.Subject ?? "bench"}.{_number}";

    private FindingLine Compose(
        string id, FindingPhase phase, FindingFacts facts, IReadOnlyList<FindingDetail> details, EngineTime raised, EngineTime? end) => new()
        {
            Id = id,
            Phase = phase,
            Input = _number,
            Bench = _benchId,
            BenchHash = _benchHash,
            Kind = facts.Kind,
            Channel = facts.Channel,
            Severity = facts.Severity,
            Start = facts.Start,
            End = end,
            RaisedAt = raised,
            StartUtc = Utc(facts.Start),
            EndUtc = end is { } e ? Utc(e) : null,
            RaisedUtc = Utc(raised),
            Value = facts.Value,
            Limit = facts.Limit,
            Unit = facts.Unit,
            LimitSource = facts.LimitSource,
            Cause = facts.Cause,
            State = _state,
            Text = facts.Text,
            Details = details,
        };

    /// <summary>A log begins with its clock; one that does not is judged all the same, with engine time shown as UTC since 1970.</summary>
    public long Utc(EngineTime time) => _anchors.Anchors.Count == 0 ? time.Nanoseconds : _anchors.ToUtcNanoseconds(time);
}
