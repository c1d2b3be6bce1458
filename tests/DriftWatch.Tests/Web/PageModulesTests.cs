using System.Text.RegularExpressions;
using DriftWatch.Tests.Support;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

/// <summary>A page is served in one script and one sheet, with every module that it runs in it, once: a browser pays for each file that it asks for.</summary>
public sealed partial class PageModulesTests
{
    private static readonly string Folder = Path.Combine(Checkout.Root, "src", "DriftWatch", "Web", "Page");

    public static TheoryData<string> Pages => [.. Directory.EnumerateFiles(Folder, "*.html").Select(path => Path.GetFileNameWithoutExtension(path)!)];

    [Theory]
    [MemberData(nameof(Pages))]
    public void A_page_has_just_the_modules_that_it_runs_each_after_those_it_needs(string page)
    {
        string html = File.ReadAllText(Path.Combine(Folder, page + ".html"));
        string[] scripts = [.. Script().Matches(html).Select(m => m.Groups["path"].Value)];
        string[] apart = [.. scripts.Where(s => s == "ahead.js")];
        var needed = new SortedSet<string>(StringComparer.Ordinal);
        Follow(scripts.Single(s => s != "ahead.js"), needed);
        Assert.True(needed.Count > 3);

        string script = PageGathering.Find(page + ".all.js", Read)!;
        string[] gathered = [.. Gathered().Matches(script).Select(m => m.Groups["path"].Value)];
        Assert.Equal(needed.Except(apart, StringComparer.Ordinal).Order(StringComparer.Ordinal), gathered.Order(StringComparer.Ordinal));
        Assert.Equal(apart.Length, Import().Count(script)); // nothing else is asked for
        string[] known = [.. apart, .. gathered];
        foreach (string module in gathered.Where(m => m is not ("who.js" or "api.js"))) // these two need each other
        {
            var own = new SortedSet<string>(StringComparer.Ordinal);
            Follow(module, own, deep: false);
            Assert.All(own.Except([module], StringComparer.Ordinal), needs => Assert.InRange(Array.IndexOf(known, needs), 0, Array.IndexOf(known, module) - 1));
        }
    }

    [Theory]
    [MemberData(nameof(Pages))]
    public void A_page_asks_for_one_sheet_that_holds_all_of_its_own_in_their_order(string page)
    {
        string html = File.ReadAllText(Path.Combine(Folder, page + ".html"));
        string[] sheets = [.. Sheet().Matches(html).Select(m => m.Groups["path"].Value)];
        string served = PageGathering.Find(page + ".html", Read)!;
        Assert.Equal([page + ".all.css"], Sheet().Matches(served).Select(m => m.Groups["path"].Value));
        Assert.Contains(page + ".all.js", Script().Matches(served).Select(m => m.Groups["path"].Value));
        Assert.Equal(string.Concat(sheets.Select(Read)), PageGathering.Find(page + ".all.css", Read));
    }

    [Theory]
    [InlineData("import './b.js';", "does not know")]
    [InlineData("export let open = 1;", "does not know")]
    [InlineData("export default class {}", "does not know")]
    [InlineData("const later = import('./b.js');", "does not know")]
    [InlineData("import { b } from './none.js';", "no file 'none.js'")]
    [InlineData("import { b } from './c.js';", "c.js takes names of a.js")]
    public void What_would_run_otherwise_than_it_is_written_is_refused(string line, string said)
    {
        var files = new Dictionary<string, string>(StringComparer.Ordinal)
        {
            ["x.html"] = "<script src=\"a.js\" type=\"module\"></script>", ["a.js"] = line + "\n", ["b.js"] = "export const b = 1;\n", ["c.js"] = "import { a } from './a.js';\nexport const b = a;\n",
        };
        InvalidDataException refused = Assert.Throws<InvalidDataException>(() => PageGathering.Find("x.all.js", files.GetValueOrDefault));
        Assert.Contains(said, refused.Message, StringComparison.Ordinal);
    }

    private static string? Read(string path) => File.Exists(Path.Combine(Folder, path)) ? File.ReadAllText(Path.Combine(Folder, path)) : null;

    private static void Follow(string module, SortedSet<string> found, bool deep = true)
    {
        if (!found.Add(module))
        {
            return;
        }

        foreach (Match import in Import().Matches(File.ReadAllText(Path.Combine(Folder, module))))
        {
            string path = Path.GetRelativePath(Folder, Path.GetFullPath(Path.Combine(Folder, Path.GetDirectoryName(module)!, import.Groups["path"].Value))).Replace('\\', '/');
            if (deep)
            {
                Follow(path, found);
            }
            else
            {
                found.Add(path);
            }
        }
    }

    [GeneratedRegex("<script src=\"(?<path>[^\"]+)\" type=\"module\"", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Script();

    [GeneratedRegex("<link rel=\"stylesheet\" href=\"(?<path>[^\"]+)\">", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Sheet();

    [GeneratedRegex("^// ---- (?<path>[\\w/-]+\\.js)$", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Gathered();

    [GeneratedRegex("^\\s*(?:import|export)\\b[^'\\n]*?from '(?<path>\\.[^']+)'", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Import();
}
