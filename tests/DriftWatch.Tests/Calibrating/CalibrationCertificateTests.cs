using System.IO.Compression;
using System.Text;
using System.Text.RegularExpressions;
using DriftWatch.Calibrating;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Tests.Calibrating;

/// <summary>The certificate as a file: one page, the same bytes each time, drawn with lines and letters, its words to be found again.</summary>
public sealed class CalibrationCertificateTests
{
    [Fact]
    public void The_same_document_gives_the_same_bytes()
    {
        CalibrationDocument document = Document();
        Assert.Equal(Pdf(document), Pdf(document));
        Assert.Equal(Pdf(document), Pdf(CalibrationDocument.Read(document.ToJson())));
    }

    [Fact]
    public void It_is_one_vector_page_with_its_fonts_and_no_picture()
    {
        string pdf = Encoding.Latin1.GetString(Pdf(Document()));
        Assert.Contains("/Count 1", pdf, StringComparison.Ordinal);
        Assert.Contains("/FontFile2", pdf, StringComparison.Ordinal);
        Assert.Contains("/ToUnicode", pdf, StringComparison.Ordinal);
        Assert.DoesNotContain("/Subtype /Image", pdf, StringComparison.Ordinal);
        Assert.Contains("/CreationDate (D:20260314120000", pdf, StringComparison.Ordinal);
    }

    /// <summary>Read back by the file's own maps from glyphs to letters, as a reader's search and a screen reader do.</summary>
    [Fact]
    public void Its_words_are_found_again()
    {
        string text = CertificateText.Of(Pdf(Document()));
        foreach (string words in (string[])["Calibration of Regulated air", "no certificate of an accredited laboratory", "test gauge, no. G-7", "As found", "As left", "expanded U", "JCGM 100:2008", "compressed air can injure", "Ida Wren"])
        {
            Assert.Contains(Close(words), Close(text), StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Many_points_and_long_names_stay_on_the_page()
    {
        CalibrationDocument document = Document();
        CalibrationDocument large = document with
        {
            Points = [.. Enumerable.Range(0, 60).Select(i => document.Points[i % document.Points.Count])],
            Label = string.Concat(Enumerable.Repeat("Regulated air ", 3)),
            Note = string.Concat(Enumerable.Repeat("after the valve was exchanged ", 10)),
        };
        string text = CertificateText.Of(Pdf(large));
        Assert.Contains(Close("and 44 more points, in the data"), Close(text), StringComparison.Ordinal);
        Assert.Contains(Close("This is a measurement and no safety device"), Close(text), StringComparison.Ordinal);
    }

    private static string Close(string text) => string.Concat(text.Where(c => !char.IsWhiteSpace(c)));

    private static CalibrationDocument Document() => CalibrationMaker.Make(
        new CalibrationContext
        {
            Bench = "practice",
            Channel = SheetSamples.Air,
            InForce = SheetSamples.Air.Calibration,
            By = "Ida Wren",
            EnteredUtc = UtcText.ToNanoseconds(new DateTimeOffset(2026, 3, 14, 12, 0, 0, TimeSpan.Zero)),
        },
        SheetSamples.AirSheet(offset: 1), Guid.Parse("019b0000-0000-7000-8000-000000000001"));

    private static byte[] Pdf(CalibrationDocument document)
    {
        using var stream = new MemoryStream();
        CalibrationCertificate.Write(stream, document);
        if (Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") is { Length: > 0 } folder)
        {
            Directory.CreateDirectory(folder);
            File.WriteAllBytes(Path.Combine(folder, $"certificate-{document.Points.Count}.pdf"), stream.ToArray());
        }

        return stream.ToArray();
    }
}

/// <summary>The letters of a PDF of one page in the order of their drawing: content streams, font resources and ToUnicode maps (ISO 32000-1, 9.10).</summary>
internal static partial class CertificateText
{
    public static string Of(byte[] pdf)
    {
        string file = Encoding.Latin1.GetString(pdf);
        var objects = new Dictionary<string, (string Head, byte[]? Stream)>(StringComparer.Ordinal);
        foreach (Match match in Objects().Matches(file))
        {
            string body = match.Groups["body"].Value;
            int at = body.IndexOf("stream\n", StringComparison.Ordinal);
            objects[match.Groups["number"].Value] = at < 0 ? (body, null) : (body[..at], Unpack(body[..at], Encoding.Latin1.GetBytes(body[(at + 7)..])));
        }

        // Names of fonts in the resources, each with its map.
        var maps = new Dictionary<string, Dictionary<int, string>>(StringComparer.Ordinal);
        foreach (Match font in FontNames().Matches(file))
        {
            if (objects.TryGetValue(font.Groups["number"].Value, out var entry) && Reference(entry.Head, "/ToUnicode") is { } map && objects[map].Stream is { } cmap)
            {
                maps[font.Groups["name"].Value] = ReadMap(Encoding.Latin1.GetString(cmap));
            }
        }

        var text = new StringBuilder();
        foreach ((string _, byte[]? stream) in objects.Values)
        {
            if (stream is null || Encoding.Latin1.GetString(stream) is not { } content || !content.Contains(" Tf", StringComparison.Ordinal))
            {
                continue;
            }

            Dictionary<int, string> map = [];
            foreach (Match token in Tokens().Matches(content))
            {
                if (token.Groups["name"].Success)
                {
                    map = maps.GetValueOrDefault(token.Groups["name"].Value) ?? map;
                }
                else
                {
                    string hex = token.Groups["hex"].Value;
                    for (int i = 0; i + 4 <= hex.Length; i += 4)
                    {
                        text.Append(map.GetValueOrDefault(Convert.ToInt32(hex.Substring(i, 4), 16)));
                    }
                }
            }
        }

        return text.ToString();
    }

    private static string? Reference(string head, string key) =>
        head.IndexOf(key + " ", StringComparison.Ordinal) is var at and >= 0 ? head[(at + key.Length + 1)..].Split(' ')[0] : null;

    private static byte[] Unpack(string head, byte[] stream)
    {
        if (!head.Contains("/FlateDecode", StringComparison.Ordinal))
        {
            return stream;
        }

        using var from = new ZLibStream(new MemoryStream(stream), CompressionMode.Decompress);
        using var to = new MemoryStream();
        from.CopyTo(to);
        return to.ToArray();
    }

    private static Dictionary<int, string> ReadMap(string cmap)
    {
        var map = new Dictionary<int, string>();
        foreach (Match block in Blocks().Matches(cmap))
        {
            foreach (Match line in Entries().Matches(block.Groups["lines"].Value))
            {
                int[] codes = [.. line.Groups["code"].Captures.Select(c => Convert.ToInt32(c.Value, 16))];
                bool isRange = block.Groups["kind"].Value == "range";
                for (int code = codes[0]; code <= (isRange ? codes[1] : codes[0]); code++)
                {
                    map[code] = char.ConvertFromUtf32(codes[^1] + code - codes[0]);
                }
            }
        }

        return map;
    }

    [GeneratedRegex(@"(^|\n)(?<number>\d+) 0 obj\n(?<body>.*?)\nendobj", RegexOptions.Singleline | RegexOptions.ExplicitCapture, 10_000)]
    private static partial Regex Objects();

    [GeneratedRegex(@"/(?<name>F\d+) (?<number>\d+) 0 R", RegexOptions.ExplicitCapture, 10_000)]
    private static partial Regex FontNames();

    [GeneratedRegex(@"/(?<name>F\d+) [\d.]+ Tf|<(?<hex>[0-9A-Fa-f]+)>", RegexOptions.ExplicitCapture, 10_000)]
    private static partial Regex Tokens();

    [GeneratedRegex(@"beginbf(?<kind>char|range)\n(?<lines>.*?)\nendbf", RegexOptions.Singleline | RegexOptions.ExplicitCapture, 10_000)]
    private static partial Regex Blocks();

    [GeneratedRegex(@"(<(?<code>[0-9A-Fa-f]+)> ?)+", RegexOptions.ExplicitCapture, 10_000)]
    private static partial Regex Entries();
}
