using System.Diagnostics;
using DriftWatch.Cli;

namespace DriftWatch.SystemTests.Storage;

/// <summary>A package as another program sees it: manifests by GNU coreutils, the record by gunzip, the report by Poppler.</summary>
public sealed class PackageOnDiskTests : IAsyncLifetime, IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-package-test-").FullName;

    private string Bag => Path.Combine(_folder, "bag");

    private string Report => Path.Combine(Bag, "data", "report", "report.pdf");

    public async Task InitializeAsync()
    {
        string recording = Path.Combine(Root(), "replay-data", "failing-compressor", "recording.csv.gz");
        Assert.Equal(ExitCode.Done, await CommandLineHost.RunAsync(["import", recording, "--store", Path.Combine(_folder, "store")], TextWriter.Null, TextWriter.Null));
        Assert.Equal(ExitCode.Done, await CommandLineHost.RunAsync(["package", Path.Combine(_folder, "store"), "--out", Bag], TextWriter.Null, TextWriter.Null));
    }

    public Task DisposeAsync() => Task.CompletedTask;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [InlineData("sha256sum", "manifest-sha256.txt")]
    [InlineData("sha512sum", "manifest-sha512.txt")]
    [InlineData("sha256sum", "tagmanifest-sha256.txt")]
    [InlineData("sha512sum", "tagmanifest-sha512.txt")]
    public async Task Every_manifest_holds_by_another_program_and_no_longer_when_a_byte_is_changed(string program, string manifest)
    {
        (int code, string said) = await RunAsync(program, "--check", "--strict", manifest);
        Assert.True(code == 0, said);
        Assert.Equal(File.ReadLines(Path.Combine(Bag, manifest)).Count(), said.Split('\n').Count(l => l.EndsWith(": OK", StringComparison.Ordinal)));

        string victim = Path.Combine(Bag, manifest.StartsWith("tag", StringComparison.Ordinal) ? "bag-info.txt" : "data/findings.jsonl");
        await File.AppendAllTextAsync(victim, " ");
        (code, _) = await RunAsync(program, "--check", "--strict", "--quiet", manifest);
        Assert.NotEqual(0, code);
    }

    [Fact]
    public async Task Every_payload_file_is_in_both_manifests_and_nothing_else()
    {
        string[] there = [.. Directory.EnumerateFiles(Path.Combine(Bag, "data"), "*", SearchOption.AllDirectories).Select(f => Path.GetRelativePath(Bag, f)).Order(StringComparer.Ordinal)];
        foreach (string manifest in new[] { "manifest-sha256.txt", "manifest-sha512.txt" })
        {
            string[] lines = await File.ReadAllLinesAsync(Path.Combine(Bag, manifest));
            Assert.Equal(there, lines.Select(l => l[(l.IndexOf(' ', StringComparison.Ordinal) + 2)..]));
        }
    }

    [Fact]
    public async Task The_unpacked_record_has_the_hash_that_the_bag_and_the_report_tell()
    {
        (int code, string said) = await RunAsync("bash", "-c", "gunzip -c data/record/record.dwlog.gz | sha256sum");
        Assert.True(code == 0, said);
        string hash = said.Split(' ')[0];
        Assert.Contains(hash, (await File.ReadAllTextAsync(Path.Combine(Bag, "bag-info.txt"))).Replace("\n ", " ", StringComparison.Ordinal), StringComparison.Ordinal);
        (_, string text) = await RunAsync("pdftotext", "-f", "1", "-l", "1", "-layout", Report, "-");
        Assert.Contains(hash, text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_report_is_a_sound_pdf_with_its_fonts_in_it_and_its_words_can_be_copied()
    {
        (int code, string fonts) = await RunAsync("pdffonts", Report);
        Assert.True(code == 0, fonts);
        string[] rows = [.. fonts.Split('\n', StringSplitOptions.RemoveEmptyEntries).Skip(2)];
        Assert.NotEmpty(rows);
        Assert.All(rows, row => Assert.Matches(@"DejaVuSans.* yes yes yes ", row)); // embedded, a subset, with a map to letters
        (_, string first) = await RunAsync("pdftotext", "-f", "1", "-l", "1", "-layout", Report, "-");
        Assert.Contains("Report on a span of the record", first, StringComparison.Ordinal);
        Assert.Contains("the compressor gives too little", first.ReplaceLineEndings(" "), StringComparison.Ordinal);
        (_, string info) = await RunAsync("pdfinfo", Report);
        Assert.Contains("A4", info, StringComparison.Ordinal);
    }

    private async Task<(int Code, string Said)> RunAsync(string program, params string[] arguments)
    {
        using Process process = Process.Start(new ProcessStartInfo(program, arguments)
        {
            WorkingDirectory = Bag,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            UseShellExecute = false,
        })!;
        Task<string> error = process.StandardError.ReadToEndAsync();
        string said = await process.StandardOutput.ReadToEndAsync() + await error;
        await process.WaitForExitAsync();
        return (process.ExitCode, said);
    }

    private static string Root()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "DriftWatch.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        return folder ?? throw new InvalidOperationException("The tests run outside of the checkout.");
    }
}
