using System.Reflection;
using ScottPlot;
using SkiaSharp;

namespace DriftWatch.Reports.Plots;

/// <summary>
/// The fonts that come with the program (DejaVu Sans, reduced to Latin, Greek and symbols; licence beside them). A bare
/// machine has no fonts at all and text would silently be missing; with them every plot looks the same everywhere.
/// </summary>
internal static class PlotFonts
{
    public const string Name = "DriftWatch Sans";

    private static readonly Lock Gate = new();
    private static bool _isInstalled;

    public static SKTypeface Regular { get; } = Load("DejaVuSans.subset.ttf");

    public static SKTypeface Bold { get; } = Load("DejaVuSans-Bold.subset.ttf");

    /// <summary>Makes the plotting library draw with these fonts. Safe to call before each plot.</summary>
    public static void Install()
    {
        lock (Gate)
        {
            if (_isInstalled)
            {
                return;
            }

            Fonts.FontResolvers.Insert(0, new Resolver());
            Fonts.Default = Name;
            _isInstalled = true;
        }
    }

    /// <summary>A font's file, to be put into what is written.</summary>
    public static byte[] Bytes(string file)
    {
        using Stream stream = Open(file);
        var bytes = new byte[stream.Length];
        stream.ReadExactly(bytes);
        return bytes;
    }

    private static SKTypeface Load(string file)
    {
        using Stream stream = Open(file);
        return SKTypeface.FromStream(stream);
    }

    private static Stream Open(string file)
    {
        string resource = "DriftWatch.Reports.fonts." + file;
        return Assembly.GetExecutingAssembly().GetManifestResourceStream(resource)
            ?? throw new InvalidOperationException($"The program was built without its font {resource}.");
    }

    private sealed class Resolver : IFontResolver
    {
        // Whatever name is asked for: text in another font beats text that is missing.
        public SKTypeface CreateTypeface(string fontName, FontWeight weight, FontSlant slant, FontSpacing spacing) =>
            weight >= FontWeight.SemiBold ? Bold : Regular;

        public SKTypeface CreateTypeface(string fontName, bool bold, bool italic) => bold ? Bold : Regular;
    }
}
