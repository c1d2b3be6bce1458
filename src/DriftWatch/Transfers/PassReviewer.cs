using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Storage.Queries;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Transfers;

/// <summary>A pass as it is looked through: what happened where, what to run again, and the verdict by the site's rules.</summary>
/// <param name="Items">By their beginning; empty before the run.</param>
/// <param name="Sections">To run again, in the order of the tape.</param>
/// <param name="Progress">What is missing and what comes next.</param>
/// <param name="ByRules">Null before the run has ended.</param>
/// <param name="Places">In words, how places on the tape are known; null before the run.</param>
/// <param name="Standard">What the wheel's rate says of the tape's standard; null before the run.</param>
/// <param name="Procedures">By which it was judged.</param>
/// <param name="Unread">What its bench has no channel of, in words.</param>
internal sealed record PassReview(
    IReadOnlyList<ReviewItem> Items, IReadOnlyList<TapeSection> Sections, PassProgress Progress, VerdictJudgement? ByRules, string? Places, TelemetryProof? Standard,
    TransferProcedures Procedures, IReadOnlyList<string> Unread)
{
    /// <summary>A run may begin before the wheel is up to speed: then its rate is asked once more. Source: our own choice, several times a wheel's run-up.</summary>
    private const long WheelUpAfter = 60_000_000_000;

    /// <summary>By the bench that the pass is judged by.</summary>
    /// <param name="reader">Of the bench's store.</param>
    /// <param name="now">The bench in force now.</param>
    /// <param name="book">That the pass stands in.</param>
    /// <param name="pass">Any pass of the book.</param>
    /// <param name="nowUtc">Where a run that goes on is cut, nanoseconds since 1970.</param>
    public static PassReview Of(BenchReader reader, BenchDefinition now, TransferBook book, BookPass pass, long nowUtc)
    {
        var by = PassBench.Of(reader, pass, now);
        return Of(new TransferTelemetry(reader, by.Bench), book, pass, by.Procedures, nowUtc);
    }

    /// <param name="telemetry">Of the bench that ran it.</param>
    /// <param name="book">That the pass stands in.</param>
    /// <param name="pass">Any pass of the book.</param>
    /// <param name="procedures">By which it is judged.</param>
    /// <param name="nowUtc">Where a run that goes on is cut, nanoseconds since 1970.</param>
    public static PassReview Of(TransferTelemetry telemetry, TransferBook book, BookPass pass, TransferProcedures procedures, long nowUtc)
    {
        TapeDescribed tape = book.Tape(book.TransferOf(pass).Tape)!.Now;
        PassProgress progress = PassProgress.Of(tape, pass, procedures);
        if (pass.RunBegan is not { } began)
        {
            return new PassReview([], [], progress, null, null, null, procedures, Transfers.Unread.Of(telemetry.Bench));
        }

        long begin = began.Entry.AboutUtc;
        long end = pass.RunEnded?.Entry.AboutUtc ?? Math.Max(nowUtc, begin + 1);
        TapePlaces places = telemetry.Places(began, end);
        IReadOnlyList<ReviewItem> items = RunReview.Items(pass, telemetry.Findings(begin, end), places, end);
        TelemetryProof standard = StandardOf(telemetry, book.Tape(book.TransferOf(pass).Tape)!, began, end);
        var facts = new RunFacts
        {
            Items = items,
            Progress = progress,
            UnwatchedPercent = telemetry.UnwatchedPercent(begin, end),
            HasBaseline = telemetry.HasBaseline(Math.Min(begin, pass.Opened.AboutUtc), end),
            Standard = standard,
        };
        VerdictJudgement? judged = pass.RunEnded is null ? null : VerdictJudgement.Of(procedures.Rules, facts);
        return new PassReview(
            items,
            RunReview.Sections(items, procedures.Rules, places, begin, end, judged is null ? [] : Whole(judged, procedures.Rules, telemetry.Gaps(begin, end), begin, end)),
            progress,
            judged,
            TapePlaces.Words(began.Body.Basis, tape.SpeedInchesPerSecond),
            standard,
            procedures,
            Transfers.Unread.Of(telemetry.Bench));
    }

    /// <summary>
    /// By the wheel's own readings against the tape as it is described now: a description may have been put right since the run began. What was
    /// told at the begin counts where the readings are gone and the description is that of then.
    /// </summary>
    private static TelemetryProof StandardOf(TransferTelemetry telemetry, BookTape tape, Said<RunBegan> began, long end)
    {
        TelemetryProof read = WheelRate.Check(telemetry.WheelRateAt(Math.Min(end, began.Entry.AboutUtc + WheelUpAfter)), tape.Now.Standard);
        bool isOfThen = tape.Entries.LastOrDefault(e => e.Entry.EnteredUtc <= began.Entry.EnteredUtc)?.Body.Standard == tape.Now.Standard;
        return read.Standing == ProofStanding.CannotTell && isOfThen && began.Body.Standard is { Standing: not ProofStanding.CannotTell } told ? told : read;
    }

    /// <summary>What the rules ask to run again that lies at no finding: what nobody watched, or the run from its begin to its end.</summary>
    private static IEnumerable<(long FromUtc, long ToUtc, string Reason)> Whole(
        VerdictJudgement judged, VerdictRules rules, IReadOnlyList<UtcStretch> gaps, long begin, long end)
    {
        foreach (VerdictReason reason in judged.Reasons.Where(r => r.Verdict == Verdict.RunAgain && r.FromSeconds is null))
        {
            bool isOfGaps = rules.Rules.First(r => r.Key == reason.Rule).When == VerdictCondition.Unwatched && gaps.Count > 0;
            foreach ((long from, long to) in isOfGaps ? gaps : [new UtcStretch(begin, end)])
            {
                yield return (from, to, reason.Text);
            }
        }
    }
}
