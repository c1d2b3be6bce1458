namespace DriftWatch.Storage.Mirror;

/// <summary>What became of a batch that was sent. By what to do next.</summary>
public enum SendResult
{
    /// <summary>The server said that it has it.</summary>
    Taken,

    /// <summary>Some or all lines are wrong for it (400, 422): sent again they are refused again.</summary>
    Refused,

    /// <summary>Too many bytes at once (413): less at once may be taken.</summary>
    TooLarge,

    /// <summary>Too many at a time (429): later it may be taken.</summary>
    Busy,

    /// <summary>The key is missing, wrong or not allowed to write (401, 403).</summary>
    Unwelcome,

    /// <summary>There is no such address, bucket or database (404), or what answers is no such server.</summary>
    NoSuchPlace,

    /// <summary>The server is in trouble (5xx): a full disk says this too. What it took just before may be gone.</summary>
    Failing,

    /// <summary>Nobody answered in time. Whether it was taken is not known, nor whether what was taken before is still there.</summary>
    Unreachable,
}

/// <summary>What a server said to a batch.</summary>
/// <param name="Result">What to do next.</param>
/// <param name="Said">In words, one line, without any key; empty when it was taken.</param>
/// <param name="RetryAfter">How long the server asked to be left alone; null where it did not ask.</param>
/// <param name="ServerUtc">The server's clock by its answer, whole seconds; null where it did not say.</param>
public readonly record struct SendAnswer(SendResult Result, string Said, TimeSpan? RetryAfter = null, DateTimeOffset? ServerUtc = null)
{
    public bool IsTaken => Result == SendResult.Taken;

    /// <summary>
    /// Whether it says that its disk is full, which a person must see to. By the words of the two servers that were seen with a full disk: the
    /// system's own for ENOSPC, and the option by which the other stops before it comes to that.
    /// </summary>
    public bool IsOfFullDisk => Result == SendResult.Failing
        && (Said.Contains("no space left on device", StringComparison.OrdinalIgnoreCase) || Said.Contains("minFreeDiskSpaceBytes", StringComparison.Ordinal));

    /// <summary>Whether the server may have lost what it had taken shortly before.</summary>
    public bool MayHaveForgotten => Result is SendResult.Failing or SendResult.Unreachable;
}
