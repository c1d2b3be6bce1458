using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>The counter was set anew, or jumped: what it counts before does not run on into what it counts behind.</summary>
/// <param name="FromUtc">Of the last reading before it.</param>
/// <param name="ToUtc">Of the first reading behind it.</param>
/// <param name="FromSeconds">What it counted last.</param>
/// <param name="ToSeconds">What it counted then.</param>
public readonly record struct PlaceBreak(long FromUtc, long ToUtc, double FromSeconds, double ToSeconds);

/// <summary>A stretch over which the places run on.</summary>
/// <param name="FromUtc">Nanoseconds since 1970.</param>
/// <param name="ToUtc">Its end.</param>
/// <param name="FromSeconds">Place at its begin.</param>
/// <param name="ToSeconds">Place at its end.</param>
public readonly record struct PlacePiece(long FromUtc, long ToUtc, double FromSeconds, double ToSeconds);

/// <summary>
/// Where the tape stood at an instant of a run: by the counter or timecode of the bench, read between its readings, or
/// by the time since the run began. Where a counter is silent for longer than <see cref="LongestSilence"/> the place is its
/// last reading and the time since (before its first one: that less the time between), and says so. A counter that is set
/// anew counts from there on: an instant lies on the one side or the other, never between the two.
/// </summary>
public sealed class TapePlaces
{
    /// <summary>Seconds. Source: common practice, no source, as long as a reading may be old before it is stale.</summary>
    public const double LongestSilence = 5;

    /// <summary>
    /// A counter that goes on faster than so many times play, either way, was set and not wound. Source: from memory, a full reel
    /// of ninety minutes is wound in some four, which is about 20 times play.
    /// </summary>
    private const double FastestWind = 30;

    /// <summary>Seconds by which any counter may step. Source: derived, it shows whole seconds and each reading may be one late.</summary>
    private const double CounterSteps = 2;

    private readonly RunBegan _run;
    private readonly long _beganUtc;
    private readonly List<(long Utc, double Seconds)> _readings;

    /// <param name="began">The entry of the run.</param>
    /// <param name="readings">Of its counter, seconds, in the order of time; empty where it has none.</param>
    public TapePlaces(Said<RunBegan> began, IEnumerable<(long Utc, double Seconds)> readings)
    {
        ArgumentNullException.ThrowIfNull(began);
        _run = began.Body;
        _beganUtc = began.Entry.AboutUtc;
        _readings = _run.Basis == PositionBasis.ElapsedTime ? [] : [.. readings];
    }

    public TapePlace At(long utc)
    {
        if (_readings.Count == 0)
        {
            return new TapePlace(_run.StartSeconds + ((utc - _beganUtc) / 1e9), PositionBasis.ElapsedTime);
        }

        int before = LastUpTo(utc);
        if (before < 0)
        {
            return Beside(_readings[0], utc);
        }

        (long lastUtc, double last) = _readings[before];
        if (before + 1 < _readings.Count && Seconds(lastUtc, _readings[before + 1].Utc) <= LongestSilence && !IsBreak(before))
        {
            (long nextUtc, double next) = _readings[before + 1];
            return new TapePlace(last + ((next - last) * Seconds(lastUtc, utc) / Seconds(lastUtc, nextUtc)), _run.Basis);
        }

        return Beside(_readings[before], utc);
    }

    /// <summary>Where the counter was set anew or jumped within a stretch, in the order of time.</summary>
    public IReadOnlyList<PlaceBreak> Breaks(long fromUtc, long toUtc) =>
    [
        .. Enumerable.Range(0, Math.Max(0, _readings.Count - 1)).Where(i => _readings[i + 1].Utc > fromUtc && _readings[i + 1].Utc <= toUtc && IsBreak(i))
            .Select(i => new PlaceBreak(_readings[i].Utc, _readings[i + 1].Utc, _readings[i].Seconds, _readings[i + 1].Seconds)),
    ];

    /// <summary>A stretch cut where the places do not run on; one piece where they do.</summary>
    public IReadOnlyList<PlacePiece> Pieces(long fromUtc, long toUtc)
    {
        var pieces = new List<PlacePiece>();
        long at = fromUtc;
        foreach (PlaceBreak its in Breaks(fromUtc, toUtc))
        {
            if (its.ToUtc - 1 > at)
            {
                pieces.Add(new PlacePiece(at, its.ToUtc - 1, At(at).Seconds, At(its.ToUtc - 1).Seconds));
            }

            at = its.ToUtc;
        }

        if (at < toUtc || pieces.Count == 0)
        {
            pieces.Add(new PlacePiece(at, toUtc, At(at).Seconds, At(toUtc).Seconds));
        }

        return pieces;
    }

    /// <summary>Seconds of a stretch over which the counter of the run was silent; 0 for a run without one.</summary>
    public double Silent(long fromUtc, long toUtc)
    {
        if (_run.Basis == PositionBasis.ElapsedTime)
        {
            return 0;
        }

        long at = fromUtc;
        double silent = 0;
        foreach (long utc in _readings.Select(r => r.Utc).Where(u => u > fromUtc && u < toUtc).Append(toUtc))
        {
            silent += Seconds(at, utc) > LongestSilence ? Seconds(at, utc) : 0;
            at = utc;
        }

        return silent;
    }

    private TapePlace Beside((long Utc, double Seconds) reading, long utc)
    {
        double since = Seconds(reading.Utc, utc);
        return new TapePlace(reading.Seconds + since, Math.Abs(since) <= LongestSilence ? _run.Basis : PositionBasis.ElapsedTime);
    }

    private bool IsBreak(int reading)
    {
        double time = Seconds(_readings[reading].Utc, _readings[reading + 1].Utc);
        return Math.Abs(_readings[reading + 1].Seconds - _readings[reading].Seconds - time) > (FastestWind * time) + CounterSteps;
    }

    /// <summary>Index of the last reading at or before an instant; -1 before the first.</summary>
    private int LastUpTo(long utc)
    {
        (int low, int high) = (0, _readings.Count);
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = _readings[middle].Utc <= utc ? (middle + 1, high) : (low, middle);
        }

        return low - 1;
    }

    private static double Seconds(long fromUtc, long toUtc) => (toUtc - fromUtc) / 1e9;

    /// <summary>How the place is known, for people.</summary>
    /// <param name="basis">Of the run.</param>
    /// <param name="speed">Inches a second.</param>
    public static string Words(PositionBasis basis, double speed) => basis switch
    {
        PositionBasis.ElapsedTime => FormattableString.Invariant($"{new TapePlace(0, basis).BasisWords}, at {speed:0.###} inches a second: stops and shuttling are not seen"),
        _ => new TapePlace(0, basis).BasisWords,
    };
}
