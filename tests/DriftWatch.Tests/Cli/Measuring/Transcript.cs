using DriftWatch.Tests.PracticeRig;

namespace DriftWatch.Tests.Cli.Measuring;

/// <summary>What a measurement prints, held against a kept transcript; DRIFTWATCH_REWRITE=1 in the environment writes it anew.</summary>
internal static class Transcript
{
    public static async Task Holds(string transcript, int code, params string[] arguments)
    {
        (int was, string output, string error) = await CommandLineTests.RunAsync(["measure", .. arguments]);
        Assert.Empty(error);
        Assert.Equal(code, was);
        string path = GuideAndHeadTests.RepositoryFile($"tests/DriftWatch.Tests/Cli/Measuring/Transcripts/{transcript}.txt");
        string text = output.ReplaceLineEndings("\n");
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_REWRITE") == "1")
        {
            File.WriteAllText(path, text);
        }

        Assert.Equal(File.ReadAllText(path), text);
    }
}
