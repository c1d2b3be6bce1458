using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// Says when a channel gives no valid reading. Silence is <c>stale</c> after the channel's own bound, an alarm after
/// the second one. A run of faults is one <c>sensor-fault</c>: at once where the sensor itself is at fault, after a
/// second where the line is (a single bad checksum is no news). Where every channel of an instrument is without
/// readings, one <c>instrument-silent</c> names the instrument instead. None of these ends but by a valid reading.
/// </summary>
internal sealed class AbsenceJudge
{
    /// <summary>How long faults of the line must last before they are said. Source: common practice, no source.</summary>
    public static readonly TimeSpan LineFaultDelay = TimeSpan.FromSeconds(1);

    private readonly TimeSpan _quietAfter;
    private EngineTime _countsFrom;
    private bool _inFault;
    private FaultCode _code;
    private EngineTime _faultSince;
    private long _faults;
    private bool _staleSaid;
    private bool _alarmSaid;
    private OpenFinding? _finding;

    public AbsenceJudge(ChannelDefinition definition)
    {
        TimeSpan threePeriods = 3 * definition.Period;
        TimeSpan quiet = threePeriods > LineFaultDelay ? threePeriods : LineFaultDelay;
        _quietAfter = quiet < definition.StaleAdvisory ? quiet : definition.StaleAdvisory;
    }

    /// <summary>The last valid reading, or when watching began if there was none since.</summary>
    public EngineTime CountsFrom => _countsFrom;

    public bool InFault => _inFault;

    public FaultCode Code => _code;

    /// <summary>Faults that say 'the line or the whole instrument', not 'this sensor'.</summary>
    public static bool IsOfTheLine(FaultCode code) => code is FaultCode.Missing or FaultCode.NoAnswer or FaultCode.LineDown
        or FaultCode.BadChecksum or FaultCode.Garbled or FaultCode.InstrumentError or FaultCode.ImplausibleJump or FaultCode.NotANumber;

    /// <summary>Without readings for a reason that the whole instrument may share.</summary>
    public bool IsSilent(EngineTime now) => _inFault ? IsOfTheLine(_code) : now - _countsFrom >= _quietAfter;

    public void BeginWatching(EngineTime now)
    {
        _countsFrom = now;
        _inFault = false;
        _faults = 0;
    }

    public void OnValid(ChannelWatch channel, WatchContext context)
    {
        EngineTime now = context.Now;
        channel.Instrument?.OnValid(channel, context);
        if (_finding is not null)
        {
            context.Desk.End(_finding, Facts(channel, context, "readings-returned"), now);
            _finding = null;
        }

        _countsFrom = now;
        _inFault = false;
        _staleSaid = false;
        _alarmSaid = false;
    }

    public void OnFault(ChannelWatch channel, WatchContext context, FaultCode code)
    {
        bool isNew = !_inFault || code != _code;
        if (!_inFault)
        {
            _inFault = true;
            _faultSince = context.Now;
            _faults = 0;
        }

        _code = code;
        _faults++;
        if (_finding is not null)
        {
            if (isNew && context.Desk.MayUpdate(_finding))
            {
                context.Desk.Update(_finding, Facts(channel, context, endedBy: null));
            }
        }
        else if (!IsOfTheLine(code) && channel.Instrument?.Finding is null)
        {
            _finding = context.Desk.Raise(Facts(channel, context, endedBy: null));
        }
    }

    public void OnTick(ChannelWatch channel, WatchContext context)
    {
        EngineTime now = context.Now;
        TimeSpan age = now - _countsFrom;
        if (age < LineFaultDelay && !_inFault)
        {
            return; // the common case
        }

        ChannelDefinition definition = channel.Definition;
        bool silenceCounts = SilenceCounts(channel, context.Machine.State);
        if (!silenceCounts && !_inFault)
        {
            if (_finding is not null)
            {
                context.Desk.End(_finding, Facts(channel, context, "state-left"), now);
                _finding = null;
            }

            return;
        }

        if (age >= definition.StaleAdvisory && !_staleSaid)
        {
            _staleSaid = true;
            channel.GoneStale(context);
            if (_finding is not null)
            {
                context.Desk.Update(_finding, Facts(channel, context, endedBy: null));
            }
        }

        bool due = age >= definition.StaleAdvisory || (_inFault && now - _faultSince >= LineFaultDelay);
        if (due && _finding is null && channel.Instrument?.Covers(channel, context) != true)
        {
            _finding = context.Desk.Raise(Facts(channel, context, endedBy: null));
            _alarmSaid = age >= definition.StaleAlarm;
        }

        if (_finding is not null && !_alarmSaid && age >= definition.StaleAlarm)
        {
            _alarmSaid = true;
            context.Desk.Update(_finding, Facts(channel, context, endedBy: null));
        }
    }

    public void OutOfService(WatchContext context) => context.Desk.TakeOutOfService(ref _finding, context.Now);

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        archive.Sync(ref _countsFrom);
        archive.Sync(ref _inFault);
        archive.Sync(ref _code);
        archive.Sync(ref _faultSince);
        archive.Sync(ref _faults);
        archive.Sync(ref _staleSaid);
        archive.Sync(ref _alarmSaid);
        desk.Sync(archive, ref _finding);
    }

    /// <summary>Frames come only while the wheel reads tape: their silence counts where tape runs, or where the state is not known.</summary>
    private static bool SilenceCounts(ChannelWatch channel, MachineState state) =>
        !channel.IsFrame || state is MachineState.Running or MachineState.Locked or MachineState.Unknown;

    private FindingFacts Facts(ChannelWatch channel, WatchContext context, string? endedBy)
    {
        ChannelDefinition definition = channel.Definition;
        TimeSpan age = context.Now - _countsFrom;
        string kind = _finding?.Line.Kind ?? (_inFault ? FindingKinds.SensorFault : FindingKinds.Stale);
        string cause = _inFault ? _code.ToSlug() : "silent";
        var details = new List<FindingDetail> { new("ageSeconds", age.TotalSeconds) };
        if (_faults > 0)
        {
            details.Add(new FindingDetail("faults", _faults));
            details.Add(new FindingDetail("fault", null, _code.ToSlug()));
        }

        if (definition.Instrument is { } instrument)
        {
            details.Add(new FindingDetail("instrument", null, instrument));
        }

        if (endedBy is not null)
        {
            details.Add(new FindingDetail("endedBy", null, endedBy));
        }

        string text = (endedBy, _inFault) switch
        {
            ("readings-returned", _) => $"{definition.Label} gives readings again after {Say.Seconds(age)} s without.",
            ("state-left", _) => $"{definition.Label} is no longer expected: the tape does not run.",
            (_, true) => $"{definition.Label} gives no valid reading: {Words(_code)}; the last valid one is {Say.Seconds(age)} s old.",
            _ => $"{definition.Label} has given no reading for {Say.Seconds(age)} s.",
        };
        return new FindingFacts
        {
            Kind = kind,
            Channel = definition.Id,
            Severity = age >= definition.StaleAlarm ? Severity.Alarm : Severity.Advisory,
            Start = _finding?.Line.Start ?? (kind == FindingKinds.SensorFault ? _faultSince : _countsFrom),
            Value = age.TotalSeconds,
            Limit = (age >= definition.StaleAlarm ? definition.StaleAlarm : definition.StaleAdvisory).TotalSeconds,
            Unit = "s",
            LimitSource = "common practice, no source (threshold table, 'data age')",
            Cause = cause,
            Text = text,
            Details = details,
        };
    }

    private static string Words(FaultCode code) => code switch
    {
        FaultCode.Missing => "readings are missing",
        FaultCode.NoAnswer => "the instrument does not answer",
        FaultCode.LineDown => "the line is down",
        FaultCode.BadChecksum => "checksums do not match",
        FaultCode.Garbled => "what arrives does not follow the instrument's grammar",
        FaultCode.InstrumentError => "the instrument reports an error",
        FaultCode.NotANumber => "what arrives is no finite number",
        FaultCode.OverRange => "the input is over its range",
        FaultCode.UnderRange => "the input is under its range",
        FaultCode.OpenLoop => "the current loop is open",
        FaultCode.LoopHigh => "the current loop is above its failure level",
        FaultCode.ImplausibleJump => "readings jump more than the quantity can",
        FaultCode.Stuck => "the reading is stuck",
        FaultCode.SupplyLost => "the sensor's supply is missing",
        _ => code.ToSlug(),
    };
}
