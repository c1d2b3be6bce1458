using DriftWatch.Measurement.Transfers;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Reports.Dossiers;

/// <summary>What people entered about a tape and its transfer, and the pass that is reported on.</summary>
/// <param name="Book">The transfer with all its passes.</param>
/// <param name="Tape">As it was last described.</param>
/// <param name="Pass">The one whose run the dossier is of.</param>
/// <param name="Review">The pass as it is looked through on the page.</param>
internal sealed record DossierTransfer(BookTransfer Book, TapeDescribed Tape, BookPass Pass, PassReview Review)
{
    public string Id => Book.Id.ToString();

    /// <summary>Every entry of the transfer, what was corrected among it, in the order of the log.</summary>
    public IEnumerable<EntryCommand> Entries => new[] { Book.Opened }.Concat(Book.Notes.Select(n => n.Entry)).Concat(Book.Passes.SelectMany(p => p.Entries));

    /// <summary>The site's lists by which it is judged.</summary>
    public TransferProcedures Procedures => Review.Procedures;

    public PassProgress Progress => Review.Progress;
}
