using SkiaSharp;

namespace DriftWatch.Reports.Documents;

/// <summary>What a document is made of. It is composed once and written as PDF and as HTML, so that both say the same.</summary>
internal abstract record Block;

/// <summary>A part of the document.</summary>
/// <param name="Text">Its name.</param>
/// <param name="OnNewPage">Where paper is used.</param>
internal sealed record Heading(string Text, bool OnNewPage = false) : Block;

/// <summary>A smaller part.</summary>
internal sealed record Subheading(string Text) : Block;

internal enum Tone
{
    Plain,

    /// <summary>What must be read if nothing else is.</summary>
    Lead,

    /// <summary>How something was come by.</summary>
    Small,
}

internal sealed record Paragraph(string Text, Tone Tone = Tone.Plain) : Block;

/// <summary>How something stands; said by sign and word, never by colour alone.</summary>
internal enum Standing
{
    Good,
    Doubtful,
    Bad,

    /// <summary>Nobody has said.</summary>
    Open,
}

/// <summary>The verdict, large.</summary>
internal sealed record Badge(Standing Standing, string Word, string Sentence) : Block;

internal sealed record Fact(string Name, string Value);

/// <summary>Names with their values.</summary>
/// <param name="Items">In order.</param>
/// <param name="IsCode">Values that are compared sign by sign: hashes and identifiers.</param>
internal sealed record Facts(IReadOnlyList<Fact> Items, bool IsCode = false) : Block;

internal sealed record Bullets(IReadOnlyList<string> Items) : Block;

/// <param name="Title">Of the column; empty for one that explains itself.</param>
/// <param name="Weight">Share of the width.</param>
/// <param name="IsNumber">Set to the right.</param>
internal sealed record Column(string Title, double Weight, bool IsNumber = false);

/// <param name="Text">Empty for nothing.</param>
/// <param name="Standing">Draws attention to it; null for none.</param>
internal readonly record struct Cell(string Text, Standing? Standing = null)
{
    public static implicit operator Cell(string text) => new(text);
}

internal sealed record Table(string Caption, IReadOnlyList<Column> Columns, IReadOnlyList<IReadOnlyList<Cell>> Rows) : Block;

/// <summary>A drawing with the sentence beneath it.</summary>
internal sealed record Figure(IDrawing Drawing, string Caption) : Block;

/// <summary>Something drawn with lines and letters, in units of a thousandth of the width.</summary>
internal interface IDrawing
{
    /// <summary>What it shows, for who can't see it.</summary>
    string Words { get; }

    /// <summary>In thousandths of the width.</summary>
    float Height { get; }

    /// <summary>Draws into 0, 0, 1000, <see cref="Height"/>.</summary>
    void Draw(SKCanvas canvas);
}

/// <summary>A document of several pages.</summary>
/// <param name="Title">What it is.</param>
/// <param name="Subtitle">Of what.</param>
/// <param name="Blocks">In reading order.</param>
/// <param name="Made">The only thing in it that differs when it is made again.</param>
/// <param name="Foot">Stands at the foot of every page.</param>
internal sealed record Document(string Title, string Subtitle, IReadOnlyList<Block> Blocks, DateTimeOffset Made, string Foot);

/// <summary>Signs and colours of standings, the same on paper and on a screen.</summary>
internal static class StandingInk
{
    public static string Sign(Standing standing) => standing switch
    {
        Standing.Good => "●",
        Standing.Doubtful => "◇",
        Standing.Bad => "▲",
        _ => "○",
    };

    public static SKColor Of(Standing standing) => standing switch
    {
        Standing.Good => new SKColor(0x1f, 0x6b, 0x3f),
        Standing.Doubtful => new SKColor(0x8a, 0x52, 0x00),
        Standing.Bad => new SKColor(0xa3, 0x26, 0x1c),
        _ => new SKColor(0x4d, 0x56, 0x5f),
    };
}
