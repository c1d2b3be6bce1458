using DriftWatch.Measurement.Alarms;

namespace DriftWatch.Watch.Alarms;

/// <summary>The sub-states of shelving as OPC UA Part 9 (OPC 10000-9, 5.8.17) has them. Append only: they stand in snapshots.</summary>
internal enum Shelving
{
    Unshelved,

    /// <summary>For a stated time, however often it comes and goes meanwhile.</summary>
    TimedShelved,

    /// <summary>Until it is over, or until the longest time is.</summary>
    OneShotShelved,
}

/// <summary>What can befall an alarm, from the machine or from a person.</summary>
internal enum AlarmEvent
{
    BecameActive,
    BecameInactive,

    /// <summary>Its priority rose, or it threatens more than it did.</summary>
    Worsened,
    Acknowledge,
    ShelveForATime,
    ShelveUntilReturned,
    Unshelve,
    ShelvingTimeOver,
    Suppress,
    Unsuppress,
    TakeOutOfService,
    PutBackInService,
}

/// <summary>
/// The state machine of one alarm: five independent parts, as OPC UA Part 9 keeps them (ActiveState, AckedState,
/// ShelvingState, SuppressedState, OutOfServiceState), and the one state of ANSI/ISA-18.2 and IEC 62682 that they show.
/// Two rules are ours: what worsens must be acknowledged anew, and comes off its shelf, because the person who put it
/// there knew of less. Part 9's confirmation and latching are left out; a new coming is answered for anew, as there.
/// </summary>
internal readonly record struct AlarmCondition(bool IsActive, bool IsAcknowledged, Shelving Shelving, bool IsSuppressed, bool IsOutOfService)
{
    public static AlarmCondition Normal { get; } = new(false, true, Shelving.Unshelved, false, false);

    public bool IsShelved => Shelving != Shelving.Unshelved;

    /// <summary>Whether a person has said that he needs no more telling of what is so.</summary>
    public bool IsAnswered => IsAcknowledged || IsShelved;

    /// <summary>What keeps an alarm quiet shows before what it is: who took it out of service must see that he did.</summary>
    public AlarmState State => this switch
    {
        { IsOutOfService: true } => AlarmState.OutOfService,
        { IsSuppressed: true } => AlarmState.SuppressedByDesign,
        { IsShelved: true } => AlarmState.Shelved,
        { IsActive: true, IsAcknowledged: false } => AlarmState.Unacknowledged,
        { IsActive: true } => AlarmState.Acknowledged,
        { IsAcknowledged: false } => AlarmState.ReturnedUnacknowledged,
        _ => AlarmState.Normal,
    };

    /// <summary>Does what is asked, or says in a few words why it can't be.</summary>
    public bool TryTake(AlarmEvent what, out AlarmCondition after, out string whyNot)
    {
        after = this;
        whyNot = "";
        switch (what)
        {
            case AlarmEvent.BecameActive when !IsActive:
                after = this with { IsActive = true, IsAcknowledged = false };
                return true;
            case AlarmEvent.BecameInactive when IsActive:
                after = this with { IsActive = false, Shelving = Shelving == Shelving.OneShotShelved ? Shelving.Unshelved : Shelving };
                return true;
            case AlarmEvent.Worsened when IsActive:
                after = this with { IsAcknowledged = false, Shelving = Shelving.Unshelved };
                return true;
            case AlarmEvent.Acknowledge when !IsAcknowledged:
                after = this with { IsAcknowledged = true };
                return true;
            case AlarmEvent.ShelveForATime:
                after = this with { Shelving = Shelving.TimedShelved };
                return true;
            case AlarmEvent.ShelveUntilReturned when Shelving != Shelving.OneShotShelved:
                after = this with { Shelving = Shelving.OneShotShelved };
                return true;
            case AlarmEvent.Unshelve or AlarmEvent.ShelvingTimeOver when Shelving != Shelving.Unshelved:
                after = this with { Shelving = Shelving.Unshelved };
                return true;
            case AlarmEvent.Suppress when !IsSuppressed:
                after = this with { IsSuppressed = true };
                return true;
            case AlarmEvent.Unsuppress when IsSuppressed:
                after = this with { IsSuppressed = false };
                return true;
            case AlarmEvent.TakeOutOfService when !IsOutOfService:
                after = this with { IsOutOfService = true };
                return true;
            case AlarmEvent.PutBackInService when IsOutOfService:
                after = this with { IsOutOfService = false };
                return true;
        }

        whyNot = what switch
        {
            AlarmEvent.BecameActive => "it is active already",
            AlarmEvent.BecameInactive or AlarmEvent.Worsened => "it is not active",
            AlarmEvent.Acknowledge => "it is acknowledged already",
            AlarmEvent.ShelveUntilReturned => "it is shelved until it is over already",
            AlarmEvent.Unshelve or AlarmEvent.ShelvingTimeOver => "it is not shelved",
            AlarmEvent.Suppress => "it is suppressed already",
            AlarmEvent.Unsuppress => "it is not suppressed",
            AlarmEvent.TakeOutOfService => "it is out of service already",
            _ => "it is not out of service",
        };
        return false;
    }
}
