using DriftWatch.Measurement.Channels;

namespace DriftWatch.Benchmarks.Nights;

/// <summary>
/// Holds what was found against what was so. A finding is false when it is raised while nothing is wrong: on a sound
/// night, before the onset, or more than ten minutes after the fault was mended; or because someone stopped the tape. A fault is found by a cause finding, or
/// by a finding on a channel that it moves, from its onset to a minute after its end.
/// </summary>
internal sealed class NightScore(NightResult night)
{
    private const double GraceSeconds = 60;
    private const double SuddenSeconds = 10;
    private const double ToleranceSeconds = 0.5;
    private const double AftermathSeconds = 600;

    /// <summary>What is raised so soon after a person stopped the tape, and is no cause or drift, is of the stop.</summary>
    private const double StopSeconds = 3;

    private readonly NightCause? _cause = NightCauses.All.FirstOrDefault(cause => cause.Slug == night.Cause);

    public NightResult Night => night;

    public IEnumerable<NightFinding> False => night.Findings.Where(finding => finding.Severity >= Severity.Advisory && (IsIdle(finding.CountsFromSeconds) || IsOfAStop(finding)));

    /// <summary>Hours in which whatever is raised is false.</summary>
    public double IdleHours => night.OnsetSeconds is { } onset
        ? (onset + Math.Max(0, night.LengthSeconds - night.EndSeconds!.Value - AftermathSeconds)) / 3600
        : night.LengthSeconds / 3600;

    /// <summary>The first finding that shows the fault.</summary>
    public NightFinding? Found => night.Findings.Where(IsOfTheFault).MinBy(finding => finding.CountsFromSeconds);

    /// <summary>The first cause that was named while the fault was there.</summary>
    public NightFinding? Named => night.Findings.Where(finding => finding.IsCause && IsDuring(finding.RaisedSeconds)).MinBy(finding => finding.RaisedSeconds);

    public bool NamedRightly => Named?.Cause == night.Cause;

    /// <summary>From the instant at which the fault is visible; null where it was not found or never visible.</summary>
    public double? DelaySeconds => Found is { } found && night.VisibleSeconds is { } visible ? found.CountsFromSeconds - visible : null;

    /// <summary>It was there within ten seconds of its onset.</summary>
    public bool IsSudden => night.Pace == NightPace.AsItBreaks && night.RampSeconds <= SuddenSeconds && night.VisibleSeconds is not null;

    /// <summary>Of a sudden fault: said within its own delay and half a second of being visible.</summary>
    public bool InTime => DelaySeconds <= night.OwnDelaySeconds + ToleranceSeconds;

    /// <summary>For a drift: said before 40 % of the tolerance were used.</summary>
    public bool FoundBefore40Percent => Found is { } found && night.FortyPercentSeconds is { } forty && found.CountsFromSeconds <= forty;

    /// <summary>Stated confidence and whether it was right, for every cause named this night.</summary>
    public IEnumerable<(double Confidence, bool Right)> Confidences => night.Findings
        .Where(finding => finding is { IsCause: true, Confidence: not null })
        .Select(finding => (finding.Confidence!.Value, finding.Cause == night.Cause && IsDuring(finding.RaisedSeconds)));

    private bool IsDuring(double seconds) => night.OnsetSeconds is { } onset && seconds >= onset && seconds <= night.EndSeconds + GraceSeconds;

    private bool IsIdle(double seconds) =>
        night.OnsetSeconds is not { } onset || seconds < onset || seconds > night.EndSeconds + AftermathSeconds;

    private bool IsOfAStop(NightFinding finding) =>
        finding is { IsCause: false, Kind: not NightKinds.Drift }
        && night.StopSeconds.Any(stop => finding.CountsFromSeconds >= stop && finding.CountsFromSeconds <= stop + StopSeconds);

    private bool IsOfTheFault(NightFinding finding) =>
        IsDuring(finding.CountsFromSeconds) && !IsOfAStop(finding)
        && (finding.IsCause || finding.Role is not { } role || _cause is null || _cause.Company.Contains(role));
}
