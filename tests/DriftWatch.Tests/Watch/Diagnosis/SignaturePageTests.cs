using System.Globalization;
using System.Text;
using DriftWatch.Tests.PracticeRig;
using DriftWatch.Watch.Diagnosis;
using Xunit;

namespace DriftWatch.Tests.Watch.Diagnosis;

/// <summary>The page that shows the table of signatures is made from the table. DRIFTWATCH_REWRITE=1 writes it anew.</summary>
public class SignaturePageTests
{
    private const string Path = "src/DriftWatch.Watch/Diagnosis/SIGNATURES.md";

    [Fact]
    public void The_page_of_signatures_is_in_step_with_the_table()
    {
        string file = GuideAndHeadTests.RepositoryFile("src/DriftWatch.Watch/Diagnosis") + "/SIGNATURES.md";
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_REWRITE") == "1")
        {
            File.WriteAllText(file, Page());
        }

        Assert.True(File.Exists(file), $"{Path} is missing; DRIFTWATCH_REWRITE=1 writes it.");
        Assert.Equal(Page(), File.ReadAllText(file).ReplaceLineEndings("\n"));
    }

    private static string Page()
    {
        var page = new StringBuilder();
        page.Append("# Signatures of causes\n\nThis page is made from the table that judgement weighs causes by; a test keeps it in step. Up, down: which way the\nsubject moves from its baseline; moved: either way; still: it stays. The figure is how often it is so when this is the\ncause, once it shows in full (common practice, no source). *first*: what moves first.\n");
        foreach (Signature signature in SignatureTable.All)
        {
            page.Append(CultureInfo.InvariantCulture, $"\n## {signature.Cause}\n\nProbably {signature.Words.Replace("{head}", "n", StringComparison.Ordinal)}. Source: {signature.Source}.\n\n*What to do first:* {signature.FirstAction}\n\n| subject | expected | how often | pace |\n|---|---|---|---|\n");
            foreach (Clue clue in signature.Clues)
            {
                string first = clue.Subject == signature.First && clue.Expected != Expected.Still ? " *first*" : "";
                page.Append(CultureInfo.InvariantCulture, $"| {clue.Subject}{first} | {clue.Expected.ToString().ToLowerInvariant()} | {100 * clue.Likelihood:0} % | {(clue.Pace is { } pace ? pace.ToString().ToLowerInvariant() : "any")} |\n");
            }
        }

        return page.ToString();
    }
}
