using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// The one finding of a judge that holds a channel to <see cref="LimitRules"/>: the rule it was last said for, whether
/// it was said to be stale, and when there is something to say again. What is said is the judge's business.
/// </summary>
internal sealed class RuleFinding
{
    private OpenFinding? _finding;
    private int _rule = -1;
    private bool _saidStale;

    public bool IsOpen => _finding is not null;

    public OpenFinding? Finding => _finding;

    /// <summary>The rule it was last said for; −1 while nothing is open.</summary>
    public int Rule => _rule;

    /// <summary>
    /// A line is due at once: nothing was said yet, another rule is the worst now, or there are readings again after
    /// silence.
    /// </summary>
    public bool IsNews(int worstRule, bool changed, bool isReading) =>
        _finding is null || (changed && worstRule != _rule) || (isReading && _saidStale);

    /// <summary>A line that only says 'worse' may be said now.</summary>
    public bool MaySayWorse(WatchContext context) => _finding is not null && !_saidStale && context.Desk.MayUpdate(_finding);

    public void Say(WatchContext context, int rule, FindingFacts facts)
    {
        _rule = rule;
        _saidStale = false;
        if (_finding is null)
        {
            _finding = context.Desk.Raise(facts);
        }
        else
        {
            context.Desk.Update(_finding, facts);
        }
    }

    public void End(WatchContext context, FindingFacts facts, EngineTime end)
    {
        context.Desk.End(_finding!, facts, end);
        _finding = null;
        _rule = -1;
    }

    /// <summary>The channel has gone silent: what is open stays open and says so, once.</summary>
    public void GoneStale(WatchContext context)
    {
        if (_finding is not null && !_saidStale)
        {
            _saidStale = true;
            context.Desk.Restate(_finding, cause: "stale");
        }
    }

    public void OutOfService(WatchContext context) => context.Desk.TakeOutOfService(ref _finding, context.Now);

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        archive.Sync(ref _rule);
        archive.Sync(ref _saidStale);
        desk.Sync(archive, ref _finding);
    }
}
