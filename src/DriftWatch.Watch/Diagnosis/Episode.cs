using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Diagnosis;

/// <summary>One time of trouble: the findings that belong together and the cause that is said of them.</summary>
internal sealed class Episode
{
    // One that comes and goes all night must not grow: of those that are over the first are kept. Source: derived, a person reads no more.
    private const int MostKept = 64;
    private const int KeptOver = 12;

    private readonly List<string> _members = [];
    private readonly HashSet<string> _has = new(StringComparer.Ordinal);
    private readonly List<string> _channels = [];
    private OpenFinding? _finding;
    private string? _cause;
    private int _head;
    private double _probability;
    private EngineTime _since;
    private EngineTime _due;
    private EngineTime _start = EngineTime.MaxValue;
    private Severity _worst;
    private bool _hasNews;
    private int _open;
    private int _mostOpen;
    private EngineTime _overSince = EngineTime.MaxValue;
    private bool _hasDrift;
    private bool _hasOther;
    private string? _apart;
    private string? _alarm;
    private int _count;

    /// <summary>Ids of the findings that belong to it, in the order in which they came; of those that are over the first dozen.</summary>
    public IReadOnlyList<string> Members => _members;

    /// <summary>Whether a finding belongs to it.</summary>
    public bool Has(string id) => _has.Contains(id);

    /// <summary>How many findings ever belonged to it.</summary>
    public int Count => _count;

    /// <summary>The tag of the alarm that it is; null before its first tick.</summary>
    public string? Alarm { get => _alarm; set => _alarm = value; }

    public OpenFinding? Finding { get => _finding; set => _finding = value; }

    /// <summary>The cause as last said; null before.</summary>
    public string? Cause => _cause;

    public double Probability => _probability;

    /// <summary>When its first finding was raised.</summary>
    public EngineTime Since => _since;

    /// <summary>When the cause is weighed next.</summary>
    public EngineTime Due { get => _due; set => _due = value; }

    /// <summary>When the first of its findings began.</summary>
    public EngineTime Start => _start;

    public Severity Worst => _worst;

    /// <summary>A finding has joined since the cause was last weighed.</summary>
    public bool HasNews => _hasNews;

    /// <summary>Some of its findings are over: what is seen now is less than there was, and no reason to think otherwise of it.</summary>
    public bool IsFading => _open < _mostOpen;

    /// <summary>When its last finding was over.</summary>
    public EngineTime OverSince => _overSince;

    /// <summary>None of its findings is open: what comes back within a while is the same trouble, what comes on another channel is not.</summary>
    public bool IsWaiting => _overSince != EngineTime.MaxValue;

    /// <summary>The head that the cause was said of; null where it is of none.</summary>
    public int? Head => _head > 0 ? _head : null;

    /// <summary>One of its findings is a drift: what it is of has gone on for longer than any compressor's cycle.</summary>
    public bool HasDrift => _hasDrift;

    /// <summary>Nothing is at a limit yet.</summary>
    public bool HasOnlyDrifts => _hasDrift && !_hasOther;

    /// <summary>Of DriftWatch's own store or mirrors: nothing in the machine explains it or hangs on it, so that nothing joins it and no cause is looked for.</summary>
    public bool IsApart => _apart is not null;

    /// <summary>The tag of the findings that it is of, where it stands apart.</summary>
    public string? Apart => _apart;

    public bool IsAbout(string? channel) => channel is not null && _channels.Contains(channel);

    public static Episode Begin(EngineTime now, EngineTime due, string? apart) => new() { _since = now, _due = due, _apart = apart };

    public void Join(FindingLine line)
    {
        _count++;
        _members.Add(line.Id);
        _has.Add(line.Id);
        if (line.Channel is { } channel && !_channels.Contains(channel))
        {
            _channels.Add(channel);
        }

        _hasNews = true;
        _hasDrift |= line.Kind == FindingKinds.Drift;
        _hasOther |= line.Kind != FindingKinds.Drift;
        _start = line.Start < _start ? line.Start : _start;
    }

    /// <summary>
    /// Looks which of its findings last; its severity is that of the worst. True when all have been over for a while: a
    /// value at its limit comes and goes.
    /// </summary>
    public bool IsOver(FindingDesk desk, EngineTime now, TimeSpan after)
    {
        _open = 0;
        _worst = Severity.Advisory;
        foreach (OpenFinding open in desk.Open)
        {
            if (_has.Contains(open.Line.Id))
            {
                _open++;
                _worst = open.Line.Severity > _worst ? open.Line.Severity : _worst;
            }
        }

        for (int i = _members.Count - 1; i >= KeptOver && _members.Count > MostKept; i--)
        {
            if (desk.Find(_members[i]) is null)
            {
                _has.Remove(_members[i]);
                _members.RemoveAt(i);
            }
        }

        bool any = _open > 0;
        _mostOpen = Math.Max(_mostOpen, _open);
        _overSince = any ? EngineTime.MaxValue : _overSince == EngineTime.MaxValue ? now : _overSince;
        return !any && now - _overSince >= after;
    }

    public void Named(Candidate candidate, int? head)
    {
        _head = candidate.Cause == _cause ? _head : head ?? 0;
        _cause = candidate.Cause;
        _probability = candidate.Probability;
        _hasNews = false;
    }

    public void Weighed() => _hasNews = false;

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        archive.SyncNames(_members);
        _has.UnionWith(_members);
        archive.SyncNames(_channels);
        archive.Sync(ref _apart);
        archive.Sync(ref _alarm);
        archive.Sync(ref _count);
        desk.Sync(archive, ref _finding);
        archive.Sync(ref _cause);
        archive.Sync(ref _head);
        archive.Sync(ref _probability);
        archive.Sync(ref _since);
        archive.Sync(ref _due);
        archive.Sync(ref _start);
        archive.Sync(ref _worst);
        archive.Sync(ref _hasNews);
        archive.Sync(ref _open);
        archive.Sync(ref _mostOpen);
        archive.Sync(ref _overSince);
        archive.Sync(ref _hasDrift);
        archive.Sync(ref _hasOther);
    }
}
