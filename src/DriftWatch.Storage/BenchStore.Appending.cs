using System.Runtime.InteropServices;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Months;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

public sealed partial class BenchStore
{
    private readonly List<EngineInput> _toEnter = [];

    /// <summary>
    /// Stores the inputs as one commit, on the disk when this returns. Numbers go on from <see cref="LastNumber"/>
    /// without a gap. On a <see cref="StoreException"/> nothing of the batch counts as stored, and the same batch may be
    /// given again: inputs up to <see cref="LastNumber"/> at its head are skipped.
    /// </summary>
    /// <exception cref="ArgumentException">Numbers with a gap, or an input that contradicts itself.</exception>
    /// <exception cref="StoreException">Not stored, see <see cref="StoreException.Trouble"/>.</exception>
    public void Append(ReadOnlySpan<EngineInput> inputs)
    {
        lock (_gate)
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            inputs = SkipStored(inputs);
            if (inputs.Length == 0)
            {
                return;
            }

            Validate(inputs);
            _month ??= MonthFile.Open(Path.Combine(Folder, MonthFile.NameOf(UtcOf(inputs[0]))), _options);
            try
            {
                using SqliteTransaction transaction = _month.Connection.BeginTransaction(deferred: false);
                _month.InsertJournal(transaction, inputs);
                transaction.Commit();
            }
            catch (SqliteException exception)
            {
                throw SqliteFile.Translate(exception, _month.Path);
            }

            _pending.AddRange(inputs);
            EnterExplicit(inputs);
        }
    }

    /// <summary>The inputs after a number, in number order and bit-equal to what was appended.</summary>
    public IEnumerable<EngineInput> ReadInputs(long afterNumber)
    {
        lock (_gate)
        {
            return _pending.Where(input => input.Number > afterNumber).ToList();
        }
    }

    private ReadOnlySpan<EngineInput> SkipStored(ReadOnlySpan<EngineInput> inputs)
    {
        while (inputs.Length > 0 && inputs[0].Number <= _state.LastNumber)
        {
            inputs = inputs[1..];
        }

        return inputs;
    }

    private void Validate(ReadOnlySpan<EngineInput> inputs)
    {
        long expected = _state.LastNumber + 1;
        EngineTime anchored = _state.Anchors.Anchors is [.., var last] ? last.Engine : EngineTime.MinValue;
        foreach (ref readonly EngineInput input in inputs)
        {
            if (input.Number != expected++)
            {
                throw new ArgumentException($"Input {input.Number} follows {expected - 2}: the log has no gaps.", nameof(inputs));
            }

            bool sound = input.Kind switch
            {
                InputKind.Sample => !input.Reading.IsFault && input.Channel >= 0,
                InputKind.Fault => input.Reading.IsFault && input.Channel >= 0,
                InputKind.Frame => input.Channel >= 0 && input.Payload is Measurement.Samples.Frame,
                InputKind.Tick => true,
                InputKind.Clock => input.ClockEvent.Anchor.Engine >= anchored,
                _ => input.Payload is not null,
            };
            if (!sound)
            {
                throw new ArgumentException($"Input {input.Number} is not a sound {input.Kind}.", nameof(inputs));
            }

            if (input.Kind == InputKind.Clock)
            {
                anchored = input.ClockEvent.Anchor.Engine;
            }
        }
    }

    private DateTimeOffset UtcOf(in EngineInput input) =>
        input.Kind == InputKind.Clock ? UtcText.ToDateTimeOffset(input.ClockEvent.Anchor.UtcNanoseconds)
        : _state.Anchors.Anchors.Count > 0 ? UtcText.ToDateTimeOffset(_state.Anchors.ToUtcNanoseconds(input.Time))
        : _options.TimeProvider.GetUtcNow();

    /// <summary>Applies what was just stored, and enters in the records what must outlive the month file.</summary>
    private void EnterExplicit(ReadOnlySpan<EngineInput> inputs)
    {
        foreach (ref readonly EngineInput input in inputs)
        {
            _state.Apply(input);
            if (PayloadJson.Carries(input.Kind))
            {
                _toEnter.Add(input);
            }
        }

        if (_toEnter.Count == 0)
        {
            return;
        }

        try
        {
            _records.Enter(CollectionsMarshal.AsSpan(_toEnter), _state.LastNumber, _state.LastTime);
            _toEnter.Clear();
        }
        catch (SqliteException exception)
        {
            // The batch is safe in the journal, so this append succeeded; entering is tried again with the next one
            // and, failing that, at the next opening.
            StoreLog.RecordsBehind(_options.Logger, exception.Message);
        }
    }
}
