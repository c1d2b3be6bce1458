namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// The one owner of a line. <see cref="Run"/> is called once, on a thread of its own, and returns only when asked to
/// stop: trouble with an instrument is posted as fault readings and retried for ever, never thrown.
/// </summary>
public interface ILineOwner
{
    /// <summary>For the thread's name and the log: the instrument's id, or the bus's where instruments share it.</summary>
    string Name { get; }

    void Run(CancellationToken stop);

    /// <summary>What has been counted of its instruments; from any thread. An owner that counts nothing has none.</summary>
    IReadOnlyList<InstrumentTally> Tallies => [];
}
