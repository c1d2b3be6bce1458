using DriftWatch.Reports.Documents;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;
using DriftWatch.Web.Api.Spans;

namespace DriftWatch.Web.Api;

/// <summary>Reports and evidence packages for the page and for programs, by the code that <c>driftwatch report</c> and <c>driftwatch package</c> run.</summary>
internal static class ReportFiles
{
    /// <summary>One is made at a time: watching comes first.</summary>
    private static readonly SemaphoreSlim One = new(1, 1);

    /// <summary>PDF or HTML, ready to be sent.</summary>
    /// <exception cref="InvalidDataException">Nothing was recorded there, or part of it is missing; the message says what to do.</exception>
    public static Task<Stream> ReportAsync(Func<Dossier> read, bool isPdf, TimeZoneInfo zone, DateTimeOffset made, CancellationToken cancel) => InTurnAsync(
        () => Task.Run<Stream>(
            () =>
            {
                Document document = TransferReport.Of(read(), zone, made);
                var stream = new MemoryStream();
                if (isPdf)
                {
                    PdfDocument.Write(stream, document);
                }
                else
                {
                    HtmlDocument.Write(stream, document);
                }

                stream.Position = 0;
                return stream;
            },
            cancel),
        cancel);

    /// <summary>A zip in a file that goes away when the stream is closed.</summary>
    /// <exception cref="InvalidDataException">Nothing was recorded there, or part of it is missing; the message says what to do.</exception>
    public static Task<Stream> PackageAsync(string store, Func<Dossier> read, string name, TimeZoneInfo zone, DateTimeOffset made, CancellationToken cancel) => InTurnAsync(
        () => Task.Run<Stream>(
            async () =>
            {
                string folder = Directory.CreateTempSubdirectory("driftwatch-package-").FullName;
                try
                {
                    string zip = Path.Combine(folder, name);
                    await EvidencePackage.WriteAsync(store, read(), zip, zone, made, cancel);
                    return new FileStream(zip, FileMode.Open, FileAccess.Read, FileShare.None, 65_536, FileOptions.Asynchronous | FileOptions.DeleteOnClose);
                }
                finally
                {
                    SpanFiles.DeleteWhatMayGo(folder);
                }
            },
            cancel),
        cancel);

    private static async Task<Stream> InTurnAsync(Func<Task<Stream>> make, CancellationToken cancel)
    {
        await One.WaitAsync(cancel);
        try
        {
            return await make();
        }
        finally
        {
            One.Release();
        }
    }
}
