using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Samples;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Watch.Judges;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class AbsencesInEveryStateTests
{
    public static TheoryData<MachineState, int, Absence> Everything()
    {
        var data = new TheoryData<MachineState, int, Absence>();
        foreach (MachineState state in Enum.GetValues<MachineState>())
        {
            foreach (ChannelDefinition channel in TestBench.AllChannels())
            {
                foreach (Absence absence in Enum.GetValues<Absence>())
                {
                    data.Add(state, channel.Key, absence);
                }
            }
        }

        return data;
    }

    [Theory]
    [MemberData(nameof(Everything))]
    public void Every_absence_is_raised_or_the_table_says_why_not(MachineState state, int key, Absence absence)
    {
        ChannelDefinition gone = TestBench.AllChannels().Single(c => c.Key == key);

        // Heads are one role of four channels: the role is missing only when none of them is there.
        Night night = new(TestBench.Full(c => absence == Absence.NotInBench && c.Role == gone.Role));
        int[] without = absence == Absence.NotInBench ? [.. TestBench.AllChannels().Where(c => c.Role == gone.Role).Select(c => c.Key)] : [key];
        if (state != MachineState.Unknown)
        {
            night.Shows(state, 0, 20, without);
            if (absence != Absence.NotInBench)
            {
                // The channel is there at first and goes away at 20 s.
                night.Shows(state, 0, 20, [.. TestBench.AllChannels().Select(c => c.Key).Where(k => k != key)]);
            }

            night.Shows(state, 20, 40, without);
        }

        if (absence == Absence.Faulted)
        {
            for (double t = 20; t < 40; t = Math.Round(t + 0.1, 6))
            {
                night.Fault(t, key, FaultCode.NoAnswer);
            }
        }

        List<FindingLine> lines = night.Until(40).Judge();
        bool raised = absence == Absence.NotInBench
            ? lines.Exists(l => l.Kind == FindingKinds.CannotTell && l.Details.Any(d => d.Name == Slugs.Of(gone.Role)))
            : lines.Exists(l => l.Phase == FindingPhase.Raised && (l.Channel == gone.Id
                ? l.Kind is FindingKinds.Stale or FindingKinds.SensorFault
                : l.Kind == FindingKinds.InstrumentSilent && l.Text.Contains(gone.Id, StringComparison.Ordinal)));
        AbsenceNotRaised? excuse = AbsencesNotRaised.Find(gone.Role, absence, state);
        Assert.True(raised != (excuse is not null), raised ? $"raised, though the table excuses it: {excuse?.Why}" : "not raised, and the table does not say why");
    }
}
