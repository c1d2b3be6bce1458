using System.Runtime.InteropServices;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Months;
using DriftWatch.Storage.Queries;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage;

public sealed partial class BenchStore
{
    private readonly List<EngineInput> _toEnter = [];
    private readonly List<Cut> _cuts = [];
    private SegmentCutter _cutter = new();

    /// <summary>A segment ends before this place in the waiting inputs, with what held in it.</summary>
    private readonly record struct Cut(int End, long Stretch, IReadOnlyDictionary<int, int> Versions);

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
            CheckRoom();
            while (inputs.Length > 0)
            {
                inputs = inputs[AppendToMonth(inputs)..];
            }
        }
    }

    /// <summary>Commits what belongs to the month now open, and turns to the next month where that ends.</summary>
    /// <returns>How many inputs were committed.</returns>
    private int AppendToMonth(ReadOnlySpan<EngineInput> inputs)
    {
        SegmentCutter cutter = _cutter.Copy();
        _cuts.Clear();
        int waiting = _pending.Count;
        int count = 0;
        string? nextMonth = null;
        for (; count < inputs.Length; count++)
        {
            ref readonly EngineInput input = ref inputs[count];
            nextMonth = cutter.Rolls(input, _options.TimeProvider);
            if (nextMonth is not null && (cutter.Month is not null || count > 0))
            {
                break;
            }

            if (nextMonth is not null)
            {
                cutter.SetMonth(nextMonth);
                nextMonth = null;
            }

            if (cutter.Cuts(input))
            {
                _cuts.Add(new Cut(waiting + count, cutter.Stretch, cutter.Versions));
                cutter.Cut();
            }

            cutter.Observe(input);
        }

        _pending.AddRange(inputs[..count]);
        if (nextMonth is not null && _pending.Count > 0)
        {
            _cuts.Add(new Cut(_pending.Count, cutter.Stretch, cutter.Versions));
            cutter.Cut();
        }

        if (_pending.Count > 0)
        {
            CommitPending(waiting, cutter.Month!);
        }

        _cutter = cutter;
        EnterExplicit(inputs[..count]);
        if (nextMonth is not null)
        {
            _month?.Dispose();
            _month = null;
            _cutter.SetMonth(nextMonth);
        }

        SayRoom(); // last: what is committed must be entered as committed whatever comes of the reserve
        return count;
    }

    /// <summary>One transaction: seals what is cut off, takes its journal rows away, and journals the new rest.</summary>
    private void CommitPending(int waiting, string month)
    {
        try
        {
            try
            {
                CommitOnce(waiting, month);
            }
            catch (SqliteException exception) when (SqliteFile.IsDamage(exception) && _month is not null)
            {
                // Found only now: set it aside and go on in a new file, with all that still waits in memory.
                string path = _month.Path;
                _month.Dispose();
                _month = null;
                SetMonthAside(path, exception.Message);
                CommitOnce(0, month);
            }
        }
        catch (Exception exception)
        {
            _pending.RemoveRange(waiting, _pending.Count - waiting);
            if (exception is SqliteException sqlite)
            {
                throw Trouble(sqlite, _month?.Path ?? month);
            }

            throw;
        }
    }

    private void CommitOnce(int waiting, string month)
    {
        _month ??= MonthFile.Open(Path.Combine(Folder, month + ".db"), _options);
        ReadOnlySpan<EngineInput> all = CollectionsMarshal.AsSpan(_pending);
        using SqliteTransaction transaction = _month.Connection.BeginTransaction(deferred: false);
        int sealedTo = 0;
        foreach (Cut cut in _cuts)
        {
            Seal(transaction, sealedTo, cut);
            sealedTo = cut.End;
        }

        if (sealedTo > 0)
        {
            MonthFile.Run(_month.DeleteJournal, transaction);
        }

        int from = Math.Max(sealedTo, waiting);
        if (from < all.Length)
        {
            _month.InsertJournal(transaction, all[from..]);
        }

        transaction.Commit();
        _pending.RemoveRange(0, sealedTo);
    }

    private void Seal(SqliteTransaction transaction, int from, Cut cut)
    {
        ReadOnlySpan<EngineInput> inputs = CollectionsMarshal.AsSpan(_pending)[from..cut.End];
        SegmentData data = SegmentData.Build(inputs, cut.Stretch, VersionOf);
        SegmentStore.WriteExplicit(_month!, transaction, data, VersionOf);
        EncodedSegment encoded = SegmentStore.Encode(data, []);
        if (!encoded.Proven && data.Opaque is null)
        {
            data.KeepAsGiven(inputs);
        }

        if (data.Opaque is not null)
        {
            StoreLog.KeptOpaque(_options.Logger, data.First, data.Last);
        }

        SegmentStore.Write(_month!, transaction, data, encoded, _month!.NextSegmentId++, MinuteLevel, data.Opaque);

        int VersionOf(int channel) => cut.Versions.GetValueOrDefault(channel, 1);
    }

    /// <summary>Seals what waits in the journal once its minute is over, for when no more inputs come. True when it did.</summary>
    public bool SealDue()
    {
        lock (_gate)
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            if (_pending.Count == 0 || _cutter.MinuteEnd is not { } end || _state.Anchors.Anchors.Count == 0
                || _state.Anchors.ToUtcNanoseconds(new EngineTime(end)) > UtcText.ToNanoseconds(_options.TimeProvider.GetUtcNow()))
            {
                return false;
            }

            _cuts.Clear();
            _cuts.Add(new Cut(_pending.Count, _cutter.Stretch, _cutter.Versions));
            CommitPending(_pending.Count, _cutter.Month!);
            _cutter.Cut();
            return true;
        }
    }

    /// <summary>
    /// The inputs after a number, in number order and bit-equal to what was appended, from journal, minutes, hours and
    /// months alike. Reads on connections of its own while writing goes on.
    /// </summary>
    /// <exception cref="StoreException">While enumerating: a block is damaged, or has expired.</exception>
    public IEnumerable<EngineInput> ReadInputs(long afterNumber)
    {
        using var reader = new LogReader(Folder);
        foreach (EngineInput input in reader.Inputs(afterNumber))
        {
            yield return input;
        }
    }

    /// <summary>The number after which <see cref="ReadInputs"/> finds readings: all up to it have expired; 0 when none have.</summary>
    public long ExpiredThrough()
    {
        using var reader = new LogReader(Folder);
        return reader.ExpiredThrough();
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
