namespace DriftWatch.Acquisition.Lines;

/// <summary>What a streaming line has brought since it was first opened: nothing is dropped uncounted.</summary>
public sealed class LineCounts
{
    private readonly long[] _rejects = new long[Enum.GetValues<LineReject>().Length];
    private uint? _lastSequence;

    /// <summary>Lines that were taken.</summary>
    public long Valid { get; private set; }

    /// <summary>Of those, lines without a checksum: a number short of a digit would have passed.</summary>
    public long Unchecked { get; private set; }

    /// <summary>Lines that the sequence numbers say were sent and that did not come.</summary>
    public long SequenceGaps { get; private set; }

    /// <summary>Lines whose sequence number was that of the line before.</summary>
    public long SequenceRepeats { get; private set; }

    /// <summary>Times the sequence ran back: the instrument restarted or its counter wrapped.</summary>
    public long SequenceRestarts { get; private set; }

    public long Rejected => _rejects.Sum();

    public long RejectedFor(LineReject reason) => _rejects[(int)reason];

    public void CountReject(LineReject reason, long times = 1) => _rejects[(int)reason] += times;

    public void CountValid(uint? sequence, bool isChecked)
    {
        Valid++;
        if (!isChecked)
        {
            Unchecked++;
        }

        if (sequence is not uint now)
        {
            return;
        }

        if (_lastSequence is uint last)
        {
            if (now == last)
            {
                SequenceRepeats++;
            }
            else if (now < last)
            {
                // The width of the instrument's counter is not known, so what was lost around a wrap is not either.
                SequenceRestarts++;
            }
            else
            {
                SequenceGaps += now - last - 1;
            }
        }

        _lastSequence = now;
    }

    /// <summary>After the line was down: what was missed meanwhile is no gap of the wire.</summary>
    public void ForgetSequence() => _lastSequence = null;

    public override string ToString()
    {
        var reasons = Enum.GetValues<LineReject>().Where(r => _rejects[(int)r] > 0).Select(r => $"{r} {_rejects[(int)r]}");
        return $"{Valid} lines, {Unchecked} unchecked, {SequenceGaps} missing by sequence, {Rejected} rejected"
            + (Rejected > 0 ? $" ({string.Join(", ", reasons)})" : "");
    }
}
