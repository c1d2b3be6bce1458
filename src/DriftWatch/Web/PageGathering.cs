using System.Text;
using System.Text.RegularExpressions;

namespace DriftWatch.Web;

/// <summary>
/// A page in few files. It is written in some thirty modules, and a browser that knows none of them pays milliseconds of two processes for each
/// that it asks for; so what a page runs is put into one script and what it is dressed in into one sheet, as it is served. Modules keep
/// their scopes, their order and their shared state: each stands in a block of its own and is known to the others by its path. Lines
/// are kept as they are, so that an error's place can be found. It knows the forms of import and export that the page is
/// written in and refuses others; a test gathers every page.
/// </summary>
internal static partial class PageGathering
{
    /// <summary>The script of <c>night.html</c> is <c>night.all.js</c>, its sheet <c>night.all.css</c>.</summary>
    private const string All = ".all";

    /// <summary>The text of a page's file, gathered where it is a page or what was gathered for one; null where there is none.</summary>
    /// <param name="path">From the page's folder, with <c>/</c>.</param>
    /// <param name="read">The text of a file as it is written; null where there is none.</param>
    /// <exception cref="InvalidDataException">A module is missing or says something in a form that is not known here.</exception>
    public static string? Find(string path, Func<string, string?> read)
    {
        if (path.EndsWith(".html", StringComparison.Ordinal))
        {
            return read(path) is { } html ? Dress(html, path[..^".html".Length]) : null;
        }

        int end = path.LastIndexOf(All + ".", StringComparison.Ordinal);
        if (end < 0 || read(path[..end] + ".html") is not { } page)
        {
            return null;
        }

        return path[end..] switch
        {
            All + ".css" => string.Concat(Sheets().Matches(page).Select(m => Need(m.Groups["path"].Value, read))),
            All + ".js" => Script(Entry().Match(page).Groups["path"].Value, [.. Apart().Matches(page).Select(m => m.Groups["path"].Value)], read),
            _ => null,
        };
    }

    private static string Dress(string html, string name)
    {
        bool first = true;
        html = Sheets().Replace(html, _ =>
        {
            string sheet = first ? $"  <link rel=\"stylesheet\" href=\"{name}{All}.css\">\n" : "";
            first = false;
            return sheet;
        });
        return Entry().Replace(html, m => m.Value.Replace($"\"{m.Groups["path"].Value}\"", $"\"{name}{All}.js\"", StringComparison.Ordinal));
    }

    /// <summary>What an entry runs, in the order in which a browser would run it; what the page runs apart stays a module of its own.</summary>
    private static string Script(string entry, string[] apart, Func<string, string?> read)
    {
        var text = new StringBuilder();
        var bodies = new StringBuilder();
        var done = new HashSet<string>(apart, StringComparer.Ordinal);
        var begun = new HashSet<string>(apart, StringComparer.Ordinal);
        for (int i = 0; i < apart.Length; i++)
        {
            text.Append(Format($"import * as apart{i} from './{apart[i]}';\n"));
        }

        text.Append("const gatheredModules = {\n").AppendJoin("", apart.Select((path, i) => Format($"  '{path}': apart{i},\n")));
        Add(entry);
        return text.Append("};\n").Append(bodies).ToString();

        void Add(string path)
        {
            begun.Add(path);
            string body = Need(path, read);
            var imports = Import().Matches(body).Select(m => (Path: Resolve(path, m.Groups["path"].Value), ByName: m.Groups["names"].Success)).ToList();
            foreach ((string needed, _) in imports)
            {
                if (!begun.Contains(needed))
                {
                    Add(needed);
                }
            }

            if (imports.Find(i => i.ByName && !done.Contains(i.Path)) is { Path: { } early })
            {
                throw new InvalidDataException($"{path} takes names of {early}, which needs {path} itself. Import it as a whole there: import * as x.");
            }

            var names = new List<string>();
            body = Import().Replace(body, m => Format($"const {(m.Groups["all"].Success ? m.Groups["all"].Value : m.Groups["names"].Value.Replace(" as ", ": ", StringComparison.Ordinal))} = gatheredModules['{Resolve(path, m.Groups["path"].Value)}'];"));
            body = ExportOne().Replace(body, m =>
            {
                names.Add(m.Groups["name"].Value);
                return m.Groups["what"].Value + m.Groups["name"].Value;
            });
            body = ExportSome().Replace(body, m =>
            {
                names.AddRange(m.Groups["names"].Value.Split(',').Select(n => n[(n.IndexOf(':', StringComparison.Ordinal) + 1)..].Trim()));
                return Format($"const {{{m.Groups["names"].Value}}}");
            });
            if (Unknown().Match(body) is { Success: true } unknown)
            {
                throw new InvalidDataException($"{path}: '{unknown.Value}' is a form that {nameof(PageGathering)} does not know.");
            }

            text.Append(Format($"  '{path}': {{}},\n"));
            bodies.Append(Format($"// ---- {path}\n{{\n"))
                .Append(Format($"Object.defineProperties(gatheredModules['{path}'], {{{string.Join(", ", names.Select(n => $" {n}: {{ get: () => {n} }}"))} }});\n"))
                .Append(body)
                .Append("}\n");
            done.Add(path);
        }
    }

    private static string Resolve(string from, string path)
    {
        var parts = new Stack<string>(from.Split('/')[..^1]);
        foreach (string part in path.Split('/'))
        {
            if (part == "..")
            {
                parts.Pop();
            }
            else if (part != ".")
            {
                parts.Push(part);
            }
        }

        return string.Join('/', parts.Reverse());
    }

    private static string Need(string path, Func<string, string?> read) =>
        read(path) ?? throw new InvalidDataException($"The page has no file '{path}'.");

    private static string Format(FormattableString text) => FormattableString.Invariant(text);

    [GeneratedRegex("^ *<link rel=\"stylesheet\" href=\"(?<path>[^\"]+)\">\n", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Sheets();

    /// <summary>What runs once the page is read.</summary>
    [GeneratedRegex("<script src=\"(?<path>[^\"]+)\" type=\"module\"(?! async)[^>]*>", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Entry();

    /// <summary>What runs as soon as it is here, before the rest.</summary>
    [GeneratedRegex("<script src=\"(?<path>[^\"]+)\" type=\"module\" async[^>]*>", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Apart();

    [GeneratedRegex(@"^import (\* as (?<all>\w+)|(?<names>\{[^}]*\})) from '(?<path>\.{1,2}/[^']+)';$", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Import();

    [GeneratedRegex(@"^export (?<what>(async )?function |class |const )(?<name>\w+)", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex ExportOne();

    [GeneratedRegex(@"^export const \{(?<names>[^}]*)\}", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex ExportSome();

    [GeneratedRegex(@"^(import|export)\b.*|\bimport\(", RegexOptions.Multiline | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Unknown();
}
