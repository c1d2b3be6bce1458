using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Alarms;

/// <summary>One alarm that is not in the state normal: its condition, and what belongs to its present coming.</summary>
internal sealed class Alarm
{
    private readonly List<string> _findings = [];
    private readonly HashSet<string> _has = new(StringComparer.Ordinal);
    private readonly List<string> _joined = [];
    private readonly List<string> _threats = [];
    private string _tag;
    private string _id = "";
    private string? _channel;
    private string _firstOut = "";
    private string? _cause;
    private string? _endedBy;
    private AlarmPriority _priority;
    private EngineTime? _shelvedUntil;
    private AlarmPriority _shelvedPriority;
    private MachineState _judgedIn;
    private long _raisedUtc;
    private TapePlace? _onTape;
    private long _startUtc;
    private int _count;

    public Alarm(string tag) => _tag = tag;

    public string Tag => _tag;

    /// <summary>Of the present or last coming.</summary>
    public string Id => _id;

    public string? Channel => _channel;

    public AlarmCondition Condition { get; set; } = AlarmCondition.Normal;

    public AlarmPriority Priority { get => _priority; set => _priority = value; }

    public string FirstOut => _firstOut;

    public int FindingCount => _count;

    public string? Cause { get => _cause; set => _cause = value; }

    public long RaisedUtc => _raisedUtc;

    public long StartUtc => _startUtc;

    /// <summary>Where the tape stood then; null where no run was entered.</summary>
    public TapePlace? OnTape => _onTape;

    /// <summary>The state of the machine in which its first finding was judged: back in it, suppression by design ends.</summary>
    public MachineState JudgedIn => _judgedIn;

    public EngineTime? ShelvedUntil { get => _shelvedUntil; set => _shelvedUntil = value; }

    /// <summary>Its priority when it was shelved; holds while it is.</summary>
    public AlarmPriority ShelvedPriority { get => _shelvedPriority; set => _shelvedPriority = value; }

    /// <summary>How the last of its findings ended, as its details say; null while none has.</summary>
    public string? EndedBy { get => _endedBy; set => _endedBy = value; }

    /// <summary>The last line of a finding that tells itself what became of it, which the alarm says when it is over; null where there is none.</summary>
    public FindingLine? Ended { get; set; }

    /// <summary>Its latest line in the book; null before the first.</summary>
    public AlarmTransition? Latest { get; set; }

    /// <summary>What it looks like when nothing more need be known of it.</summary>
    public bool IsForgettable => Condition == AlarmCondition.Normal;

    /// <summary>A new coming begins: what belonged to the last one stays in the book.</summary>
    public void Come(string id, FindingLine first, AlarmPriority priority)
    {
        _id = id;
        _firstOut = first.Id;
        _channel = first.Channel;
        _raisedUtc = first.RaisedUtc;
        _startUtc = first.StartUtc;
        _onTape = first.OnTape;
        _priority = priority;
        _judgedIn = first.State;
        _cause = null;
        EndedBy = null;
        Ended = null;
        _findings.Clear();
        _has.Clear();
        _joined.Clear();
        _count = 0;
    }

    /// <summary>A consequence that it threatens; true when it has not told of it before.</summary>
    public bool Threatens(string consequence)
    {
        if (_threats.Contains(consequence))
        {
            return false;
        }

        _threats.Add(consequence);
        return true;
    }

    /// <summary>A new coming is answered for anew; what was shelved was shelved for what it threatened then.</summary>
    public void ForgetThreats()
    {
        if (!Condition.IsShelved)
        {
            _threats.Clear();
        }
    }

    /// <summary>Of what was taken out of service before anything was said of it.</summary>
    public void ComeIfNew(string id, long utc)
    {
        if (_id.Length == 0)
        {
            (_id, _raisedUtc, _startUtc) = (id, utc, utc);
        }
    }

    /// <summary>Takes a finding in.</summary>
    /// <returns>True when it is of a kind and subject that has not joined before: worth a line.</returns>
    public bool Join(string finding, string tag)
    {
        if (!_has.Add(finding))
        {
            return false;
        }

        _count++;
        _findings.Add(finding);
        bool isNew = !_joined.Contains(tag);
        if (isNew)
        {
            _joined.Add(tag);
        }

        return isNew;
    }

    /// <summary>Whether a finding belongs to its present coming: one that lasts, or one of the first that are over.</summary>
    public bool Has(string finding) => _has.Contains(finding);

    /// <summary>Forgets findings that are over but for the first few, so that one that comes and goes all night does not grow.</summary>
    public void Forget(FindingDesk desk)
    {
        const int kept = 16; // more than a person reads
        if (_findings.Count <= desk.Open.Count + (4 * kept))
        {
            return;
        }

        for (int i = _findings.Count - 1; i > 0 && _findings.Count > kept; i--)
        {
            if (desk.Find(_findings[i]) is null)
            {
                _has.Remove(_findings[i]);
                _findings.RemoveAt(i);
            }
        }
    }

    public void Sync(StateArchive archive)
    {
        string? tag = _tag;
        string? id = _id;
        string? firstOut = _firstOut;
        archive.Sync(ref tag);
        archive.Sync(ref id);
        archive.Sync(ref firstOut);
        (_tag, _id, _firstOut) = (tag ?? "", id ?? "", firstOut ?? "");
        archive.Sync(ref _channel);
        archive.Sync(ref _cause);
        archive.Sync(ref _endedBy);
        archive.Sync(ref _priority);
        archive.Sync(ref _shelvedUntil);
        archive.Sync(ref _shelvedPriority);
        archive.Sync(ref _judgedIn);
        archive.Sync(ref _raisedUtc);
        archive.Sync(ref _startUtc);
        FindingArchive.Sync(archive, ref _onTape);
        archive.Sync(ref _count);
        archive.SyncNames(_findings);
        _has.UnionWith(_findings);
        archive.SyncNames(_joined);
        archive.SyncNames(_threats);
        (bool isActive, bool isAcknowledged, Shelving shelving, bool isSuppressed, bool isOutOfService) = Condition;
        archive.Sync(ref isActive);
        archive.Sync(ref isAcknowledged);
        archive.Sync(ref shelving);
        archive.Sync(ref isSuppressed);
        archive.Sync(ref isOutOfService);
        Condition = new AlarmCondition(isActive, isAcknowledged, shelving, isSuppressed, isOutOfService);
        byte[]? ended = Ended is { } over && archive.IsWriting ? FindingJson.ToUtf8(over) : null;
        archive.Sync(ref ended);
        byte[]? latest = Latest is { } line && archive.IsWriting ? AlarmJson.ToUtf8(line) : null;
        archive.Sync(ref latest);
        if (!archive.IsWriting)
        {
            Ended = ended is null ? null : FindingJson.Read(ended);
            Latest = latest is null ? null : AlarmJson.Read(latest);
        }
    }
}
