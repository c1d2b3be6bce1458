using DriftWatch.Measurement.Channels;

namespace DriftWatch.Watch.Judges;

/// <summary>How a channel can be absent.</summary>
public enum Absence
{
    /// <summary>It is in the bench and says nothing.</summary>
    Silent,

    /// <summary>It is in the bench and says faults only.</summary>
    Faulted,

    /// <summary>The bench has no such channel.</summary>
    NotInBench,
}

/// <summary>One absence that raises nothing, and why that is right.</summary>
public sealed record AbsenceNotRaised(ChannelRole Role, Absence Absence, IReadOnlyList<MachineState> States, string Why);

/// <summary>
/// The absences that raise no finding. Every other absence of any channel in any machine state is raised; a test takes
/// every channel away in every state and holds the outcome against this table, in both directions.
/// </summary>
public static class AbsencesNotRaised
{
    private static readonly MachineState[] NoTapeRuns = [MachineState.NoAir, MachineState.AirUp, MachineState.TapeOnGuide];

    private static readonly MachineState[] Every = Enum.GetValues<MachineState>();

    public static IReadOnlyList<AbsenceNotRaised> All { get; } =
    [
        new(ChannelRole.TimingError, Absence.Silent, NoTapeRuns,
            "Frames are made from what the heads read, so none come while no tape runs; their silence says nothing then. Faults of the frame channel are raised in every state."),
        .. NothingInferred().Select(role => new AbsenceNotRaised(role, Absence.NotInBench, Every,
            "Nothing is inferred from this role, so nothing that is judged is lost without it; its own limits live in the channel that is not there.")),
    ];

    public static AbsenceNotRaised? Find(ChannelRole role, Absence absence, MachineState state) =>
        All.FirstOrDefault(a => a.Role == role && a.Absence == absence && a.States.Contains(state));

    private static IEnumerable<ChannelRole> NothingInferred() =>
        Enum.GetValues<ChannelRole>().Where(role => MissingRoles.All.All(m => m.Role != role));
}
