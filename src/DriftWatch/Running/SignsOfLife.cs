using System.Globalization;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Running;

/// <summary>Why no sign of life may be given: to the service manager while judging stands still, to a heartbeat's far end while storing does too.</summary>
internal static class SignsOfLife
{
    /// <summary>Judging older than this stands still. Source: threshold table 'data age', advisory.</summary>
    public static readonly TimeSpan StandsStill = TimeSpan.FromSeconds(5);

    /// <param name="bench">Its id.</param>
    /// <param name="now">Of the bench's clock.</param>
    /// <param name="judged">The newest instant that was judged; before the start where none was yet.</param>
    /// <param name="started">When watching began.</param>
    /// <returns>Null while judging goes on.</returns>
    public static string? WhyNotJudging(string bench, EngineTime now, EngineTime judged, EngineTime started)
    {
        TimeSpan since = now - (judged > started ? judged : started);
        return since > StandsStill ? string.Create(CultureInfo.InvariantCulture, $"bench {bench} has judged nothing for {since.TotalSeconds:0} s") : null;
    }

    /// <returns>Null while the store takes what it is given.</returns>
    public static string? WhyNotStoring(string bench, string? trouble) => trouble is null ? null : $"the store of bench {bench} takes nothing: {trouble}";
}
