using System.Text.RegularExpressions;
using DriftWatch.Tests.Support;
using Xunit;

namespace DriftWatch.Tests.Web;

/// <summary>A page names all of its modules up front: else a browser learns of them in waves, each a round trip later.</summary>
public sealed partial class PageModulesTests
{
    private static readonly string Folder = Path.Combine(Checkout.Root, "src", "DriftWatch", "Web", "Page");

    public static TheoryData<string> Pages => [.. Directory.EnumerateFiles(Folder, "*.html").Select(path => Path.GetFileName(path)!)];

    [Theory]
    [MemberData(nameof(Pages))]
    public void A_page_loads_ahead_just_the_modules_that_it_runs(string page)
    {
        string html = File.ReadAllText(Path.Combine(Folder, page));
        string entry = Script().Match(html).Groups["path"].Value;
        var needed = new SortedSet<string>(StringComparer.Ordinal);
        Follow(entry, needed);
        needed.Remove(entry);
        Assert.NotEmpty(needed);
        Assert.Equal(needed, Ahead().Matches(html).Select(m => m.Groups["path"].Value).Order(StringComparer.Ordinal));
    }

    private static void Follow(string module, SortedSet<string> found)
    {
        if (!found.Add(module))
        {
            return;
        }

        foreach (Match import in Import().Matches(File.ReadAllText(Path.Combine(Folder, module))))
        {
            string path = Path.GetFullPath(Path.Combine(Folder, Path.GetDirectoryName(module)!, import.Groups["path"].Value));
            Follow(Path.GetRelativePath(Folder, path).Replace('\\', '/'), found);
        }
    }

    [GeneratedRegex("<script src=\"(?<path>[^\"]+)\" type=\"module\"", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Script();

    [GeneratedRegex("<link rel=\"modulepreload\" href=\"(?<path>[^\"]+)\">", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Ahead();

    [GeneratedRegex("^\\s*(?:import|export)\\b[^'\\n]*?from '(?<path>\\.[^']+)'", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Import();
}
