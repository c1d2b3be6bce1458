namespace DriftWatch.Storage;

/// <summary>Where judging stood when it was last committed.</summary>
/// <param name="Number">The last input judged.</param>
/// <param name="Snapshot">The engine's state after it.</param>
/// <param name="EngineBuild">The build that made the snapshot; another build may refuse it.</param>
public sealed record JudgedState(long Number, byte[] Snapshot, string EngineBuild);
