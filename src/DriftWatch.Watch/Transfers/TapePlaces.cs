using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>A place on the tape.</summary>
/// <param name="Seconds">By what <paramref name="Basis"/> says.</param>
/// <param name="Basis">Where it comes from; elapsed time too where a counter gave no reading.</param>
public readonly record struct TapePlace(double Seconds, PositionBasis Basis)
{
    /// <summary>Hours, minutes, seconds and tenths: <c>0:12:07.4</c>.</summary>
    public override string ToString()
    {
        long tenths = (long)Math.Round(Math.Abs(Seconds) * 10);
        return FormattableString.Invariant($"{(Seconds < 0 && tenths > 0 ? "-" : "")}{tenths / 36000}:{tenths / 600 % 60:00}:{tenths / 10 % 60:00}.{tenths % 10}");
    }
}

/// <summary>
/// Where the tape stood at an instant of a run: by the counter or timecode of the bench, read between its readings, or
/// by the time since the run began. Where a counter is silent for longer than <see cref="LongestSilence"/> the place is its
/// last reading and the time since, and says so.
/// </summary>
public sealed class TapePlaces
{
    /// <summary>Seconds. Source: common practice, no source, as long as a reading may be old before it is stale.</summary>
    public const double LongestSilence = 5;

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
        _readings = [.. readings];
    }

    public TapePlace At(long utc)
    {
        int after = _readings.FindIndex(r => r.Utc > utc);
        int before = (after < 0 ? _readings.Count : after) - 1;
        if (_run.Basis == PositionBasis.ElapsedTime || before < 0)
        {
            return new TapePlace(_run.StartSeconds + ((utc - _beganUtc) / 1e9), PositionBasis.ElapsedTime);
        }

        (long lastUtc, double last) = _readings[before];
        double since = (utc - lastUtc) / 1e9;
        if (after >= 0 && (_readings[after].Utc - lastUtc) / 1e9 <= LongestSilence)
        {
            (long nextUtc, double next) = _readings[after];
            return new TapePlace(last + ((next - last) * since / ((nextUtc - lastUtc) / 1e9)), _run.Basis);
        }

        return since <= LongestSilence ? new TapePlace(last + since, _run.Basis) : new TapePlace(last + since, PositionBasis.ElapsedTime);
    }

    /// <summary>How the place is known, for people.</summary>
    /// <param name="basis">Of the run.</param>
    /// <param name="speed">Inches a second.</param>
    public static string Words(PositionBasis basis, double speed) => basis switch
    {
        PositionBasis.Counter => "by the machine's counter",
        PositionBasis.Timecode => "by recorded timecode",
        _ => FormattableString.Invariant($"by the time since the run began, at {speed:0.###} inches a second: stops and shuttling are not seen"),
    };
}
