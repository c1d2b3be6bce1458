using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;

namespace DriftWatch.Watch.Alarms;

/// <summary>What people do to alarms. Each act is done, or the answer says in a few words why not.</summary>
internal sealed partial class AlarmDesk
{
    /// <summary>The alarm of an id: its own, its tag, or one of a finding that belongs to it; null where there is none.</summary>
    public Alarm? Named(string id) =>
        _alarms.Find(a => string.Equals(a.Id, id, StringComparison.Ordinal) || string.Equals(a.Tag, id, StringComparison.Ordinal))
        ?? _alarms.Find(a => a.Has(id));

    public string? Acknowledge(WatchContext context, Alarm alarm, Command command) =>
        Do(context, alarm, AlarmEvent.Acknowledge, AlarmStep.Acknowledged, command);

    public string? Shelve(WatchContext context, Alarm alarm, TimeSpan span, bool untilOver, Command command)
    {
        EngineTime? before = alarm.ShelvedUntil;
        alarm.ShelvedUntil = context.Now + span;
        string? whyNot = Do(context, alarm, untilOver ? AlarmEvent.ShelveUntilReturned : AlarmEvent.ShelveForATime, AlarmStep.Shelved, command);
        if (whyNot is not null)
        {
            alarm.ShelvedUntil = before;
        }
        else
        {
            alarm.ShelvedPriority = alarm.Priority;
        }

        return whyNot;
    }

    public string? Unshelve(WatchContext context, Alarm alarm, Command command)
    {
        alarm.ShelvedUntil = null;
        return Do(context, alarm, AlarmEvent.Unshelve, AlarmStep.Unshelved, command);
    }

    /// <summary>Takes a tag, or all that a channel gives rise to, out of service: it comes and goes in the book, and calls nobody.</summary>
    public string? TakeOutOfService(WatchContext context, string subject, Command command)
    {
        if (_outOfService.Contains(subject))
        {
            return "it is out of service already";
        }

        Seat(subject, null).ComeIfNew(IdOf(context, subject), context.Desk.Utc(context.Now));
        _outOfService.Add(subject);
        foreach (Alarm alarm in _alarms)
        {
            if (alarm.Tag == subject || alarm.Channel == subject)
            {
                Do(context, alarm, AlarmEvent.TakeOutOfService, AlarmStep.TakenOutOfService, command);
            }
        }

        return null;
    }

    public string? PutBackInService(WatchContext context, string subject, Command command)
    {
        if (!_outOfService.Remove(subject))
        {
            return "it is not out of service";
        }

        foreach (Alarm alarm in _alarms)
        {
            // A tag may be out of service by itself and by its channel.
            if ((alarm.Tag == subject || alarm.Channel == subject) && !IsOutOfService(alarm.Tag, alarm.Channel))
            {
                Do(context, alarm, AlarmEvent.PutBackInService, AlarmStep.PutBackInService, command);
            }
        }

        return null;
    }

    private string? Do(WatchContext context, Alarm alarm, AlarmEvent what, AlarmStep step, Command command)
    {
        AlarmState from = alarm.Condition.State;
        if (!alarm.Condition.TryTake(what, out AlarmCondition after, out string whyNot))
        {
            return whyNot;
        }

        alarm.Condition = after;
        Write(context, alarm, step, from, new Words { By = command.By, Identity = command.Identity, Why = command.Note });
        return null;
    }
}
