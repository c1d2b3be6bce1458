using DriftWatch.Measurement.Time;
using DriftWatch.Notices.Planning;
using DriftWatch.Notices.Routes;

namespace DriftWatch.Notices;

/// <summary>One route with its plan and what is on its way. Only the desk's turn touches it, but for what a test sends.</summary>
internal sealed class NoticeLane(RouteSettings settings, INoticeRoute route, RoutePlan? plan)
{
    /// <summary>How long its oldest notice waits while it fails; read from any thread.</summary>
    public long BehindTicks;

    public RouteSettings Settings { get; } = settings;

    public INoticeRoute Route { get; } = route;

    /// <summary>Null for a lamp, which shows how things stand and has no messages.</summary>
    public RoutePlan? Plan { get; } = plan;

    /// <summary>What is on its way; null while nothing is.</summary>
    public Task<RouteAnswer>? Flying { get; set; }

    /// <summary>What is to be told of alarms that are not stored, and the keys of their lines; null where nothing is.</summary>
    public (AlarmNotice Notice, IReadOnlyList<string> Keys)? Early { get; set; }

    /// <summary>Keys of the unstored lines that are on their way; none where it comes from the outbox.</summary>
    public IReadOnlyList<string> FlyingEarly { get; set; } = [];

    /// <summary>When the last of unstored lines was told.</summary>
    public EngineTime? ToldEarlyAt { get; set; }

    /// <summary>Id of the notice that is, or was last, on its way.</summary>
    public string FlyingId { get; set; } = "";

    public int EarlyFailures { get; set; }

    public EngineTime EarlyRetryAt { get; set; } = EngineTime.MinValue;

    /// <summary>Failing since then; null while it works or was never tried.</summary>
    public long? FailingSinceUtc { get; set; }

    public string? LastError { get; set; }

    public string? LastSaid { get; set; }

    public long? LastSentUtc { get; set; }

    public long SentCount { get; set; }

    /// <summary>Notices that its far end never took, of those that the outbox still has and since.</summary>
    public int GivenUpCount { get; set; }

    public int EarlyWaiting => Early is null ? 0 : 1;

    /// <summary>What goes now of what is told from memory; null where nothing is, or a try has just failed.</summary>
    public (AlarmNotice Notice, IReadOnlyList<string> Keys)? NextEarly(EngineTime now) => now < EarlyRetryAt ? null : Early;
}

/// <summary>How a route stands, for the page and for people. Times are UTC nanoseconds since 1970.</summary>
internal sealed record RouteReport(
    RouteSettings Settings, int Waiting, int Held, long Sent, long? LastSentUtc, string? LastSaid, long? FailingSinceUtc, string? LastError, bool? LampIsLit, int GivenUp = 0);

/// <summary>What a test of a route came to.</summary>
internal sealed record RouteTest(string Route, RouteKind Kind, bool Done, string Said, string? Remedy, TimeSpan Took);
