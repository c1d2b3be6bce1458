using DriftWatch.Reports.Dossiers;

namespace DriftWatch.Cli;

/// <summary>What a report or a package is of: a transfer and perhaps one pass of it, or a span of the record.</summary>
/// <param name="Transfer">Its id or the first signs of it; null for a span.</param>
/// <param name="Pass">From 1; null: the last that ran.</param>
/// <param name="FromUtc">Begin of the span; null: where the store begins.</param>
/// <param name="ToUtc">Its end.</param>
internal sealed record ReportSubject(string? Transfer, int? Pass, long? FromUtc, long? ToUtc)
{
    /// <summary>Nothing was said of it: all that the store holds.</summary>
    public bool IsWhole => this is { Transfer: null, Pass: null, FromUtc: null, ToUtc: null };

    /// <exception cref="InvalidDataException">There is no such thing in the store; the message says what there is.</exception>
    public Dossier Read(string folder, CancellationToken cancel) => Transfer is { } id
        ? DossierReader.OfTransfer(folder, id, Pass, cancel)
        : DossierReader.OfSpan(folder, FromUtc, ToUtc, cancel);
}
