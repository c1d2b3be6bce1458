namespace DriftWatch.Measurement.Transfers;

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

    /// <summary>By what, for people: after "on the tape".</summary>
    public string BasisWords => Basis switch
    {
        PositionBasis.Counter => "by the machine's counter",
        PositionBasis.Timecode => "by recorded timecode",
        _ => "by the time since the run began",
    };
}
