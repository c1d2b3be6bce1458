using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// Says that the compressor's cycle is no longer what it was, and whether more is drawn or less is delivered (<see cref="SupplyHistory"/>). Said when two cycles in
/// a row say the same, and over when two in a row are as in the reference again, or when the switch points have moved, which makes the comparison void.
/// </summary>
internal sealed class SupplyChange
{
    private OpenFinding? _finding;
    private SupplyVerdict _last;
    private SupplyVerdict _said;

    /// <summary>A cycle has been added to the history.</summary>
    public void OnCycle(WatchContext context, ChannelWatch subject, SupplyHistory history)
    {
        if (history.Compare() is not { IsKnown: true, Value: var now })
        {
            return;
        }

        SupplyVerdict verdict = now.Verdict == SupplyVerdict.LessUse ? SupplyVerdict.Steady : now.Verdict;
        bool twice = verdict == _last;
        _last = verdict;
        if (!twice)
        {
            return;
        }

        if (verdict is SupplyVerdict.Steady or SupplyVerdict.SwitchPointsMoved)
        {
            if (_finding is { } open)
            {
                string text = verdict == SupplyVerdict.Steady
                    ? $"The compressor's cycle is as it was: duty {Whole(100 * now.Duty.Now)} %."
                    : "The compressor's switch points have moved: its cycles can't be compared with those of before. Take a baseline anew.";
                context.Desk.End(open, context.Now, verdict == SupplyVerdict.Steady ? "recovered" : "switch-points-moved", text);
                _finding = null;
            }

            return;
        }

        if (_finding is null)
        {
            _finding = context.Desk.Raise(Facts(subject, history, now, verdict));
        }
        else if (verdict != _said || context.Desk.MayUpdate(_finding))
        {
            context.Desk.Update(_finding, Facts(subject, history, now, verdict));
        }

        _said = verdict;
    }

    public void OutOfService(WatchContext context) => context.Desk.TakeOutOfService(ref _finding, context.Now);

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        desk.Sync(archive, ref _finding);
        archive.Sync(ref _last);
        archive.Sync(ref _said);
    }

    private FindingFacts Facts(ChannelWatch subject, SupplyHistory history, SupplyComparison now, SupplyVerdict verdict) => new()
    {
        Kind = FindingKinds.SupplyChanged,
        Channel = subject.Definition.Id,
        Severity = Severity.Advisory,
        Start = _finding?.Line.Start ?? Measurement.Time.EngineTime.FromSeconds(history.Newest!.Value.StartSeconds),
        Value = 100 * now.Duty.Now,
        Unit = "%",
        LimitSource = "changes of a tenth and more beyond the scatter of the cycles; common practice, no source",
        Cause = verdict switch
        {
            SupplyVerdict.WornCompressor => "worn-compressor",
            SupplyVerdict.LeakAndWornCompressor => "leak-and-worn-compressor",
            _ => "leak-or-more-use",
        },
        Text = verdict switch
        {
            SupplyVerdict.WornCompressor => $"The compressor works {Whole(100 * now.Duty.Now)} % of the time, before {Whole(100 * now.Duty.Then)} %, and delivers {Whole(100 * now.DeliveryPsiPerSecond.Ratio)} % of what it did while no more is drawn: look at its intake filter, belt, valves and rings.",
            SupplyVerdict.LeakAndWornCompressor => $"The compressor works {Whole(100 * now.Duty.Now)} % of the time, before {Whole(100 * now.Duty.Then)} %: it delivers {Whole(100 * now.DeliveryPsiPerSecond.Ratio)} % of what it did, and {Whole(100 * now.Draw.Ratio)} % of before is drawn: look for a leak, then at the compressor.",
            _ => $"The compressor works {Whole(100 * now.Duty.Now)} % of the time, before {Whole(100 * now.Duty.Then)} %, because {Whole(100 * now.Draw.Ratio)} % of before is drawn: a leak, or more use. Shut the machine's valve between tapes and measure the leak-down.",
        },
        Details =
        [
            new("dutyPercent", 100 * now.Duty.Now),
            new("dutyBeforePercent", 100 * now.Duty.Then),
            new("drawnRatio", now.Draw.Ratio),
            new("deliveredRatio", now.DeliveryPsiPerSecond.Ratio),
            new("periodSeconds", now.PeriodSeconds.Now),
            new("periodBeforeSeconds", now.PeriodSeconds.Then),
            new("cutInPsi", now.CutInPsi.Now),
            new("cutOutPsi", now.CutOutPsi.Now),
        ],
    };

    private static string Whole(double percent) => percent.ToString("0", System.Globalization.CultureInfo.InvariantCulture);
}
