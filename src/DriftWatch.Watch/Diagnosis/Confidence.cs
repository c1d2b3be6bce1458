namespace DriftWatch.Watch.Diagnosis;

/// <summary>
/// From the probability that the scale gives to the confidence that is stated. Clues are not independent, so the scale is
/// surer of itself than it is right.
/// </summary>
internal static class Confidence
{
    public static double Of(double probability) => probability;
}
