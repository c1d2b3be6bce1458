using Tomlyn.Parsing;
using Tomlyn.Syntax;

namespace DriftWatch.Configuration.Toml;

/// <summary>
/// Text to a tree with places. The parser is Tomlyn's; this class keeps the spans, and says itself what is defined
/// twice, because it can name both places.
/// </summary>
internal static class TomlTreeReader
{
    /// <summary>Null when the text is not TOML; the reasons are in <paramref name="mistakes"/>, one a line of the file.</summary>
    public static TomlTable? Read(string file, string text, MistakeList mistakes)
    {
        DocumentSyntax document = SyntaxParser.Parse(text, file, validate: false);
        if (document.HasErrors)
        {
            AddSyntaxMistakes(file, document.Diagnostics, mistakes);
            return null;
        }

        var builder = new Builder(file, mistakes);
        return builder.Build(document);
    }

    private static void AddSyntaxMistakes(string file, DiagnosticsBag diagnostics, MistakeList mistakes)
    {
        var linesSaid = new HashSet<int>();
        foreach (DiagnosticMessage message in diagnostics.OrderBy(m => m.Span.Start.Line).ThenBy(m => m.Span.Start.Column))
        {
            if (message.Kind == DiagnosticMessageKind.Error && linesSaid.Add(message.Span.Start.Line))
            {
                string what = message.Message.ReplaceLineEndings(" ").Trim().TrimEnd('.');
                mistakes.Add(
                    file,
                    message.Span.Start.Line + 1,
                    message.Span.Start.Column + 1,
                    "this is not TOML: " + char.ToLowerInvariant(what[0]) + what[1..],
                    "write key = value, text in \"quotes\", [table] and [[list of tables]]");
            }
        }
    }

    private sealed class Builder(string file, MistakeList mistakes)
    {
        public TomlTable Build(DocumentSyntax document)
        {
            var root = new TomlTable(1, 1);
            AddAll(root, document.KeyValues);
            foreach (TableSyntaxBase section in document.Tables)
            {
                if (section.Name is null)
                {
                    continue;
                }

                int line = section.Span.Start.Line + 1;
                int column = section.Span.Start.Column + 1;
                TomlTable? table = section is TableArraySyntax
                    ? OpenArrayItem(root, section.Name, line, column)
                    : OpenTable(root, section.Name, line, column);
                if (table is not null)
                {
                    AddAll(table, section.Items);
                }
            }

            return root;
        }

        private TomlTable? OpenTable(TomlTable root, KeySyntax name, int line, int column)
        {
            List<string> path = PathOf(name);
            TomlTable? parent = Descend(root, path, path.Count - 1, line, column);
            if (parent is null)
            {
                return null;
            }

            TomlEntry? entry = parent.Find(path[^1]);
            if (entry is null)
            {
                var table = new TomlTable(line, column) { HasHeader = true };
                parent.TryAdd(new TomlEntry(path[^1], line, column, table));
                return table;
            }

            if (entry.Value is TomlTable { Closed: false, HasHeader: false } open)
            {
                open.HasHeader = true;
                return open;
            }

            string dotted = string.Join('.', path);
            string remedy = entry.Value is TomlArray { OfTables: true }
                ? $"write [[{dotted}]] with double brackets"
                : $"write [{dotted}] once, with all its keys below it";
            mistakes.Add(file, line, column, $"[{dotted}] stands already in line {entry.Line}", remedy);
            return null;
        }

        private TomlTable? OpenArrayItem(TomlTable root, KeySyntax name, int line, int column)
        {
            List<string> path = PathOf(name);
            TomlTable? parent = Descend(root, path, path.Count - 1, line, column);
            if (parent is null)
            {
                return null;
            }

            TomlEntry? entry = parent.Find(path[^1]);
            var item = new TomlTable(line, column) { HasHeader = true };
            if (entry is null)
            {
                var array = new TomlArray(line, column, [item]) { OfTables = true };
                parent.TryAdd(new TomlEntry(path[^1], line, column, array));
                return item;
            }

            if (entry.Value is TomlArray { OfTables: true } existing)
            {
                existing.Items.Add(item);
                return item;
            }

            string dotted = string.Join('.', path);
            mistakes.Add(
                file,
                line,
                column,
                $"[[{dotted}]] stands already in line {entry.Line} as {entry.Value.Kind}",
                $"write [[{dotted}]] with double brackets everywhere");
            return null;
        }

        /// <summary>Follows the first <paramref name="count"/> names of a path, making tables that are not there yet.</summary>
        private TomlTable? Descend(TomlTable from, List<string> path, int count, int line, int column)
        {
            TomlTable table = from;
            for (int i = 0; i < count; i++)
            {
                TomlEntry? entry = table.Find(path[i]);
                if (entry is null)
                {
                    entry = new TomlEntry(path[i], line, column, new TomlTable(line, column));
                    table.TryAdd(entry);
                }

                switch (entry.Value)
                {
                    case TomlTable { Closed: false } next:
                        table = next;
                        break;
                    case TomlArray { OfTables: true } array:
                        table = (TomlTable)array.Items[^1];
                        break;
                    default:
                        string said = string.Join('.', path.Take(i + 1));
                        mistakes.Add(
                            file,
                            line,
                            column,
                            $"'{said}' is {entry.Value.Kind} in line {entry.Line} and can't hold more keys",
                            $"write all keys of '{said}' in one place");
                        return null;
                }
            }

            return table;
        }

        private void AddAll(TomlTable table, IEnumerable<KeyValueSyntax> pairs)
        {
            foreach (KeyValueSyntax pair in pairs)
            {
                Add(table, pair);
            }
        }

        private void Add(TomlTable table, KeyValueSyntax pair)
        {
            if (pair.Key is null || pair.Value is null)
            {
                return;
            }

            int line = pair.Key.Span.Start.Line + 1;
            int column = pair.Key.Span.Start.Column + 1;
            List<string> path = PathOf(pair.Key);
            TomlTable? parent = Descend(table, path, path.Count - 1, line, column);
            if (parent is null)
            {
                return;
            }

            var entry = new TomlEntry(path[^1], line, column, Value(pair.Value));
            if (!parent.TryAdd(entry))
            {
                mistakes.Add(
                    file,
                    line,
                    column,
                    $"'{string.Join('.', path)}' stands already in line {parent.Find(path[^1])!.Line}",
                    "write it once");
            }
        }

        private TomlNode Value(ValueSyntax syntax)
        {
            int line = syntax.Span.Start.Line + 1;
            int column = syntax.Span.Start.Column + 1;
            switch (syntax)
            {
                case StringValueSyntax text:
                    return new TomlText(line, column, text.Value ?? "");
                case IntegerValueSyntax integer:
                    return new TomlInteger(line, column, integer.Value);
                case FloatValueSyntax real:
                    return new TomlFloat(line, column, real.Value);
                case BooleanValueSyntax flag:
                    return new TomlFlag(line, column, flag.Value);
                case ArraySyntax array:
                    return new TomlArray(line, column, [.. array.Items.Where(i => i.Value is not null).Select(i => Value(i.Value!))]);
                case InlineTableSyntax inline:
                    var table = new TomlTable(line, column) { Closed = true, HasHeader = true };
                    AddAll(table, inline.Items.Where(i => i.KeyValue is not null).Select(i => i.KeyValue!));
                    return table;
                default:
                    return new TomlMoment(line, column);
            }
        }

        private static List<string> PathOf(KeySyntax key)
        {
            var path = new List<string> { NameOf(key.Key) };
            path.AddRange(key.DotKeys.Select(dot => NameOf(dot.Key)));
            return path;
        }

        private static string NameOf(BareKeyOrStringValueSyntax? name) => name switch
        {
            BareKeySyntax bare => bare.Key?.Text ?? "",
            StringValueSyntax text => text.Value ?? "",
            _ => "",
        };
    }
}
