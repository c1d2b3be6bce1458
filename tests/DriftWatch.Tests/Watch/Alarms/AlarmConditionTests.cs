using CsCheck;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Watch.Alarms;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms;

/// <summary>
/// The state machine of an alarm, looked at whole: every condition with every event. What must happen is written here by
/// what OPC UA Part 9 (OPC 10000-9, release 1.05) publishes: the state variables of 5.7.2 and 5.8.2, table B.1, and the
/// six transitions of its ShelvedStateMachineType with their causes (5.8.17). The texts of IEC 62682 and ANSI/ISA-18.2
/// were not readable here; the names of the states shown are theirs by secondary sources.
/// </summary>
public class AlarmConditionTests
{
    private static readonly bool[] Both = [false, true];

    private static IEnumerable<AlarmCondition> Conditions =>
        from active in Both
        from acknowledged in Both
        from shelving in Enum.GetValues<Shelving>()
        from suppressed in Both
        from outOfService in Both
        select new AlarmCondition(active, acknowledged, shelving, suppressed, outOfService);

    private static IEnumerable<(AlarmCondition Before, AlarmEvent Event, AlarmCondition? After)> All =>
        from before in Conditions
        from what in Enum.GetValues<AlarmEvent>()
        select (before, what, before.TryTake(what, out AlarmCondition after, out _) ? after : (AlarmCondition?)null);

    [Fact]
    public void Every_condition_takes_every_event_as_published_or_refuses_it_with_a_reason()
    {
        int seen = 0;
        foreach ((AlarmCondition before, AlarmEvent what, AlarmCondition? after) in All)
        {
            seen++;
            Assert.True(Expected(before, what) == after, $"{before} with {what}: {after}, expected {Expected(before, what)}");
            before.TryTake(what, out AlarmCondition left, out string whyNot);
            Assert.Equal(after is null, whyNot.Length > 0);
            Assert.True(after is not null || left == before, "What is refused changes nothing.");
        }

        Assert.Equal(48 * 12, seen);
    }

    [Fact]
    public void Shelving_moves_by_the_six_published_transitions_with_their_causes_and_no_other()
    {
        var moved = All.Where(t => t.After is { } after && after.Shelving != t.Before.Shelving)
            .Select(t => ($"{t.Before.Shelving}To{t.After!.Value.Shelving}", t.Event)).ToHashSet();
        (string, AlarmEvent)[] published =
        [
            ("UnshelvedToTimedShelved", AlarmEvent.ShelveForATime),
            ("UnshelvedToOneShotShelved", AlarmEvent.ShelveUntilReturned),
            ("TimedShelvedToUnshelved", AlarmEvent.Unshelve),
            ("TimedShelvedToUnshelved", AlarmEvent.ShelvingTimeOver),
            ("TimedShelvedToOneShotShelved", AlarmEvent.ShelveUntilReturned),
            ("OneShotShelvedToUnshelved", AlarmEvent.Unshelve),
            ("OneShotShelvedToUnshelved", AlarmEvent.ShelvingTimeOver), // MaxTimeShelved holds for it, too (5.8.2)
            ("OneShotShelvedToUnshelved", AlarmEvent.BecameInactive),
            ("OneShotShelvedToTimedShelved", AlarmEvent.ShelveForATime),
        ];
        (string, AlarmEvent)[] ours = [("TimedShelvedToUnshelved", AlarmEvent.Worsened), ("OneShotShelvedToUnshelved", AlarmEvent.Worsened)];
        Assert.Equal(published.Concat(ours).Order(), moved.Order());
        Assert.Equal(6, published.Select(p => p.Item1).Distinct().Count());
    }

    /// <summary>Rows of table B.1, without the confirmation that is optional there and not kept here: what it confirms is acknowledged.</summary>
    [Fact]
    public void The_worked_sequence_of_table_B_1_is_gone_through()
    {
        AlarmCondition condition = AlarmCondition.Normal;
        (AlarmEvent Event, bool Active, bool Acked, AlarmState Shown)[] rows =
        [
            (AlarmEvent.BecameActive, true, false, AlarmState.Unacknowledged), // 1: alarm goes active
            (AlarmEvent.Acknowledge, true, true, AlarmState.Acknowledged), // 2: condition acknowledged
            (AlarmEvent.BecameInactive, false, true, AlarmState.Normal), // 3: alarm goes inactive
            (AlarmEvent.BecameActive, true, false, AlarmState.Unacknowledged), // 5: alarm goes active
            (AlarmEvent.BecameInactive, false, false, AlarmState.ReturnedUnacknowledged), // 6: alarm goes inactive
            (AlarmEvent.Acknowledge, false, true, AlarmState.Normal), // 7: condition acknowledged
        ];
        Assert.Equal((false, true, AlarmState.Normal), (condition.IsActive, condition.IsAcknowledged, condition.State)); // initial state
        foreach ((AlarmEvent what, bool active, bool acked, AlarmState shown) in rows)
        {
            Assert.True(condition.TryTake(what, out condition, out string whyNot), whyNot);
            Assert.Equal((active, acked, shown), (condition.IsActive, condition.IsAcknowledged, condition.State));
        }
    }

    [Fact]
    public void What_keeps_an_alarm_quiet_shows_before_what_it_is()
    {
        foreach (AlarmCondition condition in Conditions)
        {
            AlarmState expected = condition.IsOutOfService ? AlarmState.OutOfService
                : condition.IsSuppressed ? AlarmState.SuppressedByDesign
                : condition.Shelving != Shelving.Unshelved ? AlarmState.Shelved
                : condition.IsActive && !condition.IsAcknowledged ? AlarmState.Unacknowledged
                : condition.IsActive ? AlarmState.Acknowledged
                : !condition.IsAcknowledged ? AlarmState.ReturnedUnacknowledged
                : AlarmState.Normal;
            Assert.Equal(expected, condition.State);
        }

        Assert.Equal(Enum.GetValues<AlarmState>().Order(), Conditions.Select(c => c.State).Distinct().Order());
    }

    /// <summary>CsCheck prints the seed of a failing case.</summary>
    [Fact]
    public void Any_sequence_keeps_the_parts_apart_and_never_forgets_that_nobody_answered() =>
        Gen.Enum<AlarmEvent>().Array[1, 200].Sample(events =>
        {
            AlarmCondition condition = AlarmCondition.Normal;
            bool active = false;
            bool answered = true;
            int quiet = 0; // bits: shelved, suppressed, out of service
            foreach (AlarmEvent what in events)
            {
                bool taken = condition.TryTake(what, out AlarmCondition after, out _);
                condition = after;
                switch (what)
                {
                    case AlarmEvent.BecameActive when taken:
                        (active, answered) = (true, false);
                        break;
                    case AlarmEvent.BecameInactive:
                        active = false;
                        break;
                    case AlarmEvent.Worsened when taken:
                        answered = false;
                        quiet &= ~1;
                        break;
                    case AlarmEvent.Acknowledge:
                        answered = true;
                        break;
                    case AlarmEvent.ShelveForATime or AlarmEvent.ShelveUntilReturned:
                        quiet |= 1;
                        break;
                    case AlarmEvent.Unshelve or AlarmEvent.ShelvingTimeOver:
                        quiet &= ~1;
                        break;
                    case AlarmEvent.Suppress:
                        quiet |= 2;
                        break;
                    case AlarmEvent.Unsuppress:
                        quiet &= ~2;
                        break;
                    case AlarmEvent.TakeOutOfService:
                        quiet |= 4;
                        break;
                    case AlarmEvent.PutBackInService:
                        quiet &= ~4;
                        break;
                }

                quiet = what == AlarmEvent.BecameInactive && condition.Shelving == Shelving.Unshelved ? quiet & ~1 : quiet;
                Assert.Equal((active, answered), (condition.IsActive, condition.IsAcknowledged));
                Assert.Equal(quiet, (condition.Shelving == Shelving.Unshelved ? 0 : 1) | (condition.IsSuppressed ? 2 : 0) | (condition.IsOutOfService ? 4 : 0));
            }
        });

    /// <summary>What is published, part by part; null for what is refused.</summary>
    private static AlarmCondition? Expected(AlarmCondition c, AlarmEvent what) => what switch
    {
        AlarmEvent.BecameActive => c.IsActive ? null : c with { IsActive = true, IsAcknowledged = false },
        AlarmEvent.BecameInactive => !c.IsActive ? null
            : c.Shelving == Shelving.OneShotShelved ? c with { IsActive = false, Shelving = Shelving.Unshelved } : c with { IsActive = false },
        AlarmEvent.Worsened => !c.IsActive ? null : c with { IsAcknowledged = false, Shelving = Shelving.Unshelved },
        AlarmEvent.Acknowledge => c.IsAcknowledged ? null : c with { IsAcknowledged = true },
        AlarmEvent.ShelveForATime => c with { Shelving = Shelving.TimedShelved },
        AlarmEvent.ShelveUntilReturned => c.Shelving == Shelving.OneShotShelved ? null : c with { Shelving = Shelving.OneShotShelved },
        AlarmEvent.Unshelve or AlarmEvent.ShelvingTimeOver => c.Shelving == Shelving.Unshelved ? null : c with { Shelving = Shelving.Unshelved },
        AlarmEvent.Suppress => c.IsSuppressed ? null : c with { IsSuppressed = true },
        AlarmEvent.Unsuppress => c.IsSuppressed ? c with { IsSuppressed = false } : null,
        AlarmEvent.TakeOutOfService => c.IsOutOfService ? null : c with { IsOutOfService = true },
        _ => c.IsOutOfService ? c with { IsOutOfService = false } : null,
    };
}
