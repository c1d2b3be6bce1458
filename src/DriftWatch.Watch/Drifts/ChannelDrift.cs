namespace DriftWatch.Watch.Drifts;

/// <summary>
/// How fast one channel or derived quantity uses its tolerance, as far as that can be told now. Values in
/// <see cref="Unit"/>, intervals of 95 %; what can't be told is null, and <see cref="Untold"/> says why.
/// </summary>
public sealed record ChannelDrift
{
    public required string Id { get; init; }

    public required string Label { get; init; }

    public required string Unit { get; init; }

    /// <summary>This tape's baseline.</summary>
    public double? Baseline { get; init; }

    /// <summary>The drift's line at the present, without the noise about it.</summary>
    public double? Value { get; init; }

    /// <summary>The nearest limit beyond the baseline in the direction of the drift.</summary>
    public double? Limit { get; init; }

    /// <summary>Share of the way from the baseline to the limit; below 0 where the value is on the baseline's other side.</summary>
    public double? UsedShare { get; init; }

    /// <summary>What the list is ordered by: share of the tolerance used in an hour at this rate.</summary>
    public double? UsedSharePerHour { get; init; }

    public double? SlopePerHour { get; init; }

    public double? SlopePerHourLow { get; init; }

    public double? SlopePerHourHigh { get; init; }

    /// <summary>How often noise alone shows a slope this steep. Where the noise is too slow to tell, how often a random walk does.</summary>
    public double? Significance { get; init; }

    /// <summary>Until the line is at the limit; null where it is not to get there within the horizon.</summary>
    public double? MinutesLeft { get; init; }

    /// <summary>Not before this; null where that is beyond the horizon too.</summary>
    public double? MinutesLeftLow { get; init; }

    /// <summary>Reached by then; null where no end can be told.</summary>
    public double? MinutesLeftHigh { get; init; }

    /// <summary>Length of the window that the drift is told from.</summary>
    public double? WindowMinutes { get; init; }

    /// <summary><c>no-baseline</c>, <c>too-little-seen</c> (no window is covered yet), <c>no-limit-that-way</c>; null where all is told.</summary>
    public string? Untold { get; init; }

    /// <summary>It goes towards its limit beyond doubt, has used some of the way, and gets there within the horizon.</summary>
    public bool Leaves => this is { UsedSharePerHour: > 0, UsedShare: > 0, MinutesLeft: not null } && SlopePerHourLow * SlopePerHourHigh > 0;
}
