using DriftWatch.Cli;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Tests.Recordings;

namespace DriftWatch.Tests.Reports.Dossiers;

/// <summary>Stores of replayed recordings, imported once for all tests that ask for them.</summary>
[CollectionDefinition(Name)]
public sealed class ImportedStores : IAsyncLifetime, IDisposable, ICollectionFixture<ImportedStores>
{
    public const string Name = "imported stores";

    private readonly RecordingFolder _folder = new();

    public string Sound => PathOf("sound-transfer");

    public string Compressor => PathOf("failing-compressor");

    public string PathOf(string name) => _folder.PathOf(name);

    public async Task InitializeAsync()
    {
        foreach (string name in new[] { "sound-transfer", "failing-compressor" })
        {
            string recording = Path.Combine(GuideAndHeadTests.RepositoryFile("replay-data"), name, "recording.csv.gz");
            (int code, _, string error) = await CommandLineTests.RunAsync("import", recording, "--store", PathOf(name));
            Assert.True(code == ExitCode.Done, error);
        }
    }

    public Task DisposeAsync() => Task.CompletedTask;

    public void Dispose() => _folder.Dispose();
}
