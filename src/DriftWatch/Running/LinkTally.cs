using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Running;

/// <summary>What became of an instrument's line since this process began. Immutable: each notice makes the next.</summary>
/// <param name="Notice">How it is now.</param>
/// <param name="Since">Since when it is so.</param>
/// <param name="Downs">Times it went down after it had talked, or failed to come up at first.</param>
/// <param name="Reconnects">Times it talked again after it was down.</param>
/// <param name="LastDown">Why it was last down; null when it never was.</param>
/// <param name="LastDownAt">When that began.</param>
internal sealed record LinkTally(
    InstrumentNotice Notice, EngineTime? Since, int Downs, int Reconnects, string? LastDown, EngineTime? LastDownAt)
{
    public static LinkTally First(InstrumentNotice notice, EngineTime? now) =>
        new LinkTally(notice with { State = LinkState.Connecting }, now, 0, 0, null, null).After(notice, now);

    public LinkTally After(InstrumentNotice notice, EngineTime? now)
    {
        LinkState before = Notice.State;
        LinkTally next = this with { Notice = notice, Since = notice.State == before ? Since : now };
        return (before, notice.State) switch
        {
            (LinkState.Down, LinkState.Down) => next with { LastDown = notice.Reason }, // another reason for the same outage
            (_, LinkState.Down) => next with { Downs = Downs + 1, LastDown = notice.Reason, LastDownAt = now },
            (LinkState.Down, LinkState.Talking) => next with { Reconnects = Reconnects + 1 },
            _ => next,
        };
    }
}
