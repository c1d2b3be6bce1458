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
        page.Append("# Signatures of causes\n\nThis page is made from the table that judgement weighs causes by; a test keeps it in step. Share: how far the cause moves a\nsubject, in its tolerances, up positive, while it moves the first one of the row by its share; the spread is how much that\nproportion differs from machine to machine (measured on practice nights for tuning). What a row does not name stays still.\nPace: how often it comes at once, within a minute, and over minutes or more (common practice, no source).\n");
        foreach (Signature signature in SignatureTable.All)
        {
            (double sudden, double quick, double slow) = (signature.Paces.Of(Pace.Sudden) / 3, signature.Paces.Of(Pace.Quick) / 3, signature.Paces.Of(Pace.Slow) / 3);
            page.Append(CultureInfo.InvariantCulture, $"\n## {signature.Cause}\n\nProbably {signature.Words.Replace("{head}", "n", StringComparison.Ordinal)}. Source: {signature.Source}. Pace: {100 * sudden:0} %, {100 * quick:0} %, {100 * slow:0} %.\n\n*What to do first:* {signature.FirstAction}\n\n| subject | share | spread |\n|---|---|---|\n");
            foreach (Clue clue in signature.Clues)
            {
                page.Append(CultureInfo.InvariantCulture, $"| {clue.Subject} | {(clue.EitherWay ? "±" : clue.Share > 0 ? "+" : "−")}{Math.Abs(clue.Share)} | {100 * clue.Spread:0} % |\n");
            }

            if (signature.LeftToChance.Count > 0)
            {
                page.Append(CultureInfo.InvariantCulture, $"\nMay move or not: {string.Join(", ", signature.LeftToChance)}.\n");
            }
        }

        page.Append("\n## What subjects do while nothing is wrong\n\nStandard deviation off the baseline, in tolerances, on sound practice nights for tuning; rounded up.\n\n| subject | unrest |\n|---|---|\n");
        foreach (string subject in Subjects.All)
        {
            page.Append(CultureInfo.InvariantCulture, $"| {subject} | {Subjects.UnrestOf(subject)} |\n");
        }

        return page.ToString();
    }
}
