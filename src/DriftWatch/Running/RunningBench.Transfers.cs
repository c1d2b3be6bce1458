using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Running;

/// <summary>The book of transfers of a running bench, and the runs that the machine's state begins and ends.</summary>
internal sealed partial class RunningBench
{
    private readonly TransferDesk _transfers;
    private RunCueWatch? _cues;
    private BenchDefinition? _cuesOf;
    private volatile bool _cueing;

    TransferDesk? IBenchView.Transfers => _transfers;

    private TransferDesk NewTransferDesk() => new(
        _reader, () => Bench, entry => _pipeline.EnterAsync(EngineInput.OfCommand(_clock.Now, entry)), _options.TimeProvider,
        (step, by) => PresentReading.Of(this, step, by));

    /// <summary>On the pipeline's thread, which the entry has to pass: it is made on another.</summary>
    private void WatchForRuns(EngineTime time)
    {
        BenchDefinition bench = Bench;
        if (_cueing)
        {
            return;
        }

        if (!ReferenceEquals(bench, _cuesOf))
        {
            // On a bench that can't tell lock, tape that runs is the most that is known.
            bool tellsLock = bench.Channels.Any(c => c.Role == ChannelRole.ServoLock);
            _cues = new RunCueWatch(_transfers.Procedures.Rules.Run, tellsLock ? MachineState.Locked : MachineState.Running);
            _cuesOf = bench;
        }

        if (_cues!.Look(_anchors.ToUtcNanoseconds(time), _engine.State, _transfers.Book.OpenPass) is { } cue)
        {
            _cueing = true;
            _ = Task.Run(() => EnterCueAsync(cue));
        }
    }

    private async Task EnterCueAsync(RunCueSeen cue)
    {
        try
        {
            EntryOutcome outcome = await _transfers.EnterAsync(cue);
            if (outcome.Problem is { } problem)
            {
                RunningLog.RunNotEntered(_logger, problem.What, problem.Remedy);
            }
        }
        catch (Exception exception) when (exception is IOException or WatchingStoppedException or Storage.StoreException)
        {
            RunningLog.RunNotEntered(_logger, exception.Message, "It is entered once the store takes it.");
        }
        finally
        {
            _cueing = false;
        }
    }
}
