using System.Data.Common;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;
using DriftWatch.Web.Api.Spans;

namespace DriftWatch.Running;

/// <summary>The book of transfers of a running bench, and the runs that the machine's state begins and ends.</summary>
internal sealed partial class RunningBench
{
    private readonly TransferDesk _transfers;
    private RunCueWatch? _cues;
    private BenchDefinition? _cuesOf;
    private volatile bool _cueing;
    private string? _notEntered; // one entry at a time touches it

    /// <summary>A tape that was lined up longer ago has to stand anew before it begins a run. Source: our own choice.</summary>
    private const long RecallsNanoseconds = 86_400L * 1_000_000_000;

    private const int MostLinesRecalled = 10_000;

    TransferDesk? IBenchView.Transfers => _transfers;

    private TransferDesk NewTransferDesk() => new(
        _reader, () => Bench, entry => _pipeline.EnterAsync(EngineInput.OfCommand(_clock.Now, entry)), _options.TimeProvider,
        (id, utc) => QuantityThen.At(_options.StoreFolder, id, utc), (step, by) => PresentReading.Of(this, step, by));

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
            Recall(_cues, _anchors.ToUtcNanoseconds(time));
        }

        if (_cues!.Look(_anchors.ToUtcNanoseconds(time), _engine.State, _transfers.Book.OpenPass) is { } cue)
        {
            _cueing = true;
            _ = Task.Run(() => EnterCueAsync(cue));
        }
    }

    /// <summary>A process, or a bench file, that begins in the middle of a stage goes on from what was seen of it.</summary>
    private void Recall(RunCueWatch cues, long nowUtc)
    {
        if (_transfers.Book.OpenPass is { } pass && (pass.RunBegan?.Entry ?? pass.LineUpEnded?.Entry) is { } since)
        {
            long from = Math.Max(since.AboutUtc, nowUtc - RecallsNanoseconds);
            try
            {
                List<FindingLine> lines = [.. _reader.FindingsBetween(_anchors.FromUtcNanoseconds(from), _anchors.FromUtcNanoseconds(nowUtc), TimeSpan.FromDays(1), MostLinesRecalled).Select(f => f.Line)];
                cues.Recall(SpanEventsAnswer.StatesOf(lines, from, nowUtc).Select(s => (s.Stretch.FromUtc, s.State)), pass);
            }
            catch (Exception exception) when (exception is Storage.StoreException or DbException or IOException)
            {
                // Judging goes on whatever the store does.
                RunningLog.RunNotEntered(_logger, $"What was seen of the tape before can't be read: {exception.Message}", "Tape has to stand before it begins a run by itself; begin it by hand if it runs.");
            }
        }
    }

    private async Task EnterCueAsync(RunCueSeen cue)
    {
        try
        {
            EntryOutcome outcome = await _transfers.EnterAsync(cue);
            TellOnce(outcome.Problem?.What, outcome.Problem?.Remedy);
        }
        catch (Exception exception) when (exception is IOException or WatchingStoppedException or Storage.StoreException)
        {
            TellOnce(exception.Message, "It is entered once the store takes it.");
        }
        finally
        {
            _cueing = false;
        }
    }

    /// <summary>It is tried again for as long as the machine's state says the same: the same trouble is logged once.</summary>
    private void TellOnce(string? what, string? remedy)
    {
        if (what is not null && what != _notEntered)
        {
            RunningLog.RunNotEntered(_logger, what, remedy!);
        }

        _notEntered = what;
    }
}
