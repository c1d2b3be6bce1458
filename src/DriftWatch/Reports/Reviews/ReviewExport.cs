using DriftWatch.Measurement.Transfers;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Reviews;

/// <summary>A pass's review as one of the exports.</summary>
internal static class ReviewExport
{
    /// <param name="book">That the pass stands in.</param>
    /// <param name="pass">Its run began.</param>
    /// <param name="review">Of the pass.</param>
    /// <param name="format"><c>csv</c>, <c>edl</c> or <c>vtt</c>.</param>
    /// <param name="items">All that happened, instead of the sections to run again.</param>
    public static string Write(TransferBook book, BookPass pass, PassReview review, string format, bool items)
    {
        TapeDescribed tape = book.Tape(book.TransferOf(pass).Tape)!.Now;
        long began = pass.RunBegan?.Entry.AboutUtc ?? 0;
        ReviewRow[] rows = items ? [.. review.Items.Select(i => ReviewRow.Of(i, began))] : [.. review.Sections.Select(ReviewRow.Of)];
        string title = $"{tape.Identifier} pass {pass.Number}";
        return format switch
        {
            "csv" => ReviewExports.Csv(rows),
            "vtt" => ReviewExports.WebVtt(rows, title),
            _ => ReviewExports.EditList(rows, title, tape.Identifier, tape.Standard, pass.RunBegan?.Body.Basis ?? PositionBasis.ElapsedTime),
        };
    }
}
