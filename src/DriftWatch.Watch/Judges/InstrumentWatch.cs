using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// An instrument with several channels: when all of them are without readings, the instrument is, and a person wants
/// one finding with its name rather than eight. It ends with the first reading of any of them; those that stay away
/// then speak for themselves. Frame channels don't count, since frames may rest while the instrument is well.
/// </summary>
internal sealed class InstrumentWatch(string id)
{
    private bool _alarmSaid;
    private OpenFinding? _finding;

    public string Id { get; } = id;

    public string Label { get; set; } = "";

    public IReadOnlyList<ChannelWatch> Members { get; set; } = [];

    public OpenFinding? Finding => _finding;

    /// <summary>True when the finding of the instrument speaks for the channel; raises it if that is due.</summary>
    public bool Covers(ChannelWatch channel, WatchContext context)
    {
        if (_finding is not null)
        {
            return true;
        }

        foreach (ChannelWatch member in Members)
        {
            if (!member.Absence.IsSilent(context.Now))
            {
                return false;
            }
        }

        if (Members.Count < 2)
        {
            return false;
        }

        _alarmSaid = false;
        _finding = context.Desk.Raise(Facts(context, channel, endedBy: null));
        return true;
    }

    public void OnTick(WatchContext context)
    {
        if (_finding is null)
        {
            return;
        }

        if (Members.Count < 2)
        {
            OutOfService(context);
            return;
        }

        if (!_alarmSaid && Age(context.Now) >= Members[0].Definition.StaleAlarm)
        {
            _alarmSaid = true;
            context.Desk.Update(_finding, Facts(context, Members[0], endedBy: null));
        }
    }

    public void OnValid(ChannelWatch channel, WatchContext context)
    {
        if (_finding is not null)
        {
            context.Desk.End(_finding, Facts(context, channel, "readings-returned"), context.Now);
            _finding = null;
        }
    }

    public void OutOfService(WatchContext context) => context.Desk.TakeOutOfService(ref _finding, context.Now);

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        archive.Sync(ref _alarmSaid);
        desk.Sync(archive, ref _finding);
    }

    private EngineTime LastReading()
    {
        EngineTime last = EngineTime.MinValue;
        foreach (ChannelWatch member in Members)
        {
            last = member.Absence.CountsFrom > last ? member.Absence.CountsFrom : last;
        }

        return last;
    }

    private TimeSpan Age(EngineTime now) => now - LastReading();

    private FindingFacts Facts(WatchContext context, ChannelWatch speaker, string? endedBy)
    {
        EngineTime last = LastReading();
        TimeSpan age = context.Now - last;
        TimeSpan alarm = Members[0].Definition.StaleAlarm;
        string label = Label.Length == 0 ? Id : Label;
        string channels = string.Join(' ', Members.Select(m => m.Definition.Id));
        var details = new List<FindingDetail>
        {
            new("instrument", null, Id),
            new("channels", null, channels),
            new("ageSeconds", age.TotalSeconds),
        };
        if (endedBy is not null)
        {
            details.Add(new FindingDetail("endedBy", null, endedBy));
        }

        string cause = _finding is not null && endedBy is not null ? _finding.Line.Cause
            : speaker.Absence.InFault ? speaker.Absence.Code.ToSlug() : "silent";
        return new FindingFacts
        {
            Kind = FindingKinds.InstrumentSilent,
            Subject = Id,
            Severity = age >= alarm ? Severity.Alarm : Severity.Advisory,
            Start = _finding?.Line.Start ?? last,
            Value = age.TotalSeconds,
            Limit = (age >= alarm ? alarm : Members[0].Definition.StaleAdvisory).TotalSeconds,
            Unit = "s",
            LimitSource = "common practice, no source (threshold table, 'data age')",
            Cause = cause,
            Text = endedBy is null
                ? $"Instrument {label} gives no readings: {Members.Count} channels are without data since {Say.Seconds(age)} s ({channels})."
                : $"Instrument {label} gives readings again after {Say.Seconds(age)} s without.",
            Details = details,
        };
    }
}
