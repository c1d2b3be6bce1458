using System.Globalization;
using Microsoft.Playwright;
using Xunit;

namespace DriftWatch.SystemTests.Page.Now;

/// <summary>
/// The page's colours as people see them who lack one kind of cone, by the matrices for full severity of Machado, Oliveira and
/// Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE TVCG 15 (2009), on linear RGB.
/// </summary>
[Collection(BrowserCollection.Name)]
public sealed class PaletteTests(BrowserFixture fixture) : OpenPage(fixture)
{
    // WCAG 2.2: 4.5 for text (1.4.3), 3 for lines and shapes (1.4.11).
    private const double TextContrast = 4.5;
    private const double ShapeContrast = 3;

    // CIE 1976 difference; about 2.3 is just seen side by side, and ours are thin lines apart. Source: common practice, no source.
    private const double LeastDifference = 20;

    private static readonly Dictionary<string, double[]> Eyes = new()
    {
        ["all cones"] = [1, 0, 0, 0, 1, 0, 0, 0, 1],
        ["protan"] = [0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998],
        ["deutan"] = [0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881],
        ["tritan"] = [1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900],
    };

    [Theory]
    [InlineData(ColorScheme.Light)]
    [InlineData(ColorScheme.Dark)]
    public async Task Moods_keep_apart_and_readable_for_every_kind_of_eye(ColorScheme scheme)
    {
        await OpenAsync(scheme: scheme);
        string[] moods = ["trace", "advisory", "alarm", "fault"], grounds = ["ground", "panel"];
        var colours = new Dictionary<string, double[]>();
        foreach (string name in moods.Concat(grounds))
        {
            colours[name] = Linear(await Page.EvaluateAsync<string>("n => getComputedStyle(document.documentElement).getPropertyValue('--' + n).trim()", name));
        }

        foreach ((string eye, double[] matrix) in Eyes)
        {
            double[] Seen(string name) => [.. Enumerable.Range(0, 3).Select(row => Math.Clamp(Enumerable.Range(0, 3).Sum(i => matrix[(3 * row) + i] * colours[name][i]), 0, 1))];
            foreach (string mood in moods)
            {
                double least = grounds.Min(g => Contrast(Seen(mood), Seen(g)));
                Assert.True(least >= (mood == "trace" ? ShapeContrast : TextContrast), $"{mood} on the ground, {eye}: contrast {least:0.00}");
                foreach (string other in moods.Where(o => string.CompareOrdinal(o, mood) > 0))
                {
                    double apart = Math.Sqrt(Lab(Seen(mood)).Zip(Lab(Seen(other)), (a, b) => (a - b) * (a - b)).Sum());
                    Assert.True(apart >= LeastDifference, $"{mood} and {other}, {eye}: {apart:0.0} apart");
                }
            }
        }
    }

    private static double[] Linear(string hex) =>
        [.. Enumerable.Range(0, 3).Select(i => int.Parse(hex.AsSpan(1 + (2 * i), 2), NumberStyles.HexNumber, CultureInfo.InvariantCulture) / 255.0).Select(c => c <= 0.04045 ? c / 12.92 : Math.Pow((c + 0.055) / 1.055, 2.4))];

    private static double Luminance(double[] c) => (0.2126 * c[0]) + (0.7152 * c[1]) + (0.0722 * c[2]);

    private static double Contrast(double[] a, double[] b) =>
        (Math.Max(Luminance(a), Luminance(b)) + 0.05) / (Math.Min(Luminance(a), Luminance(b)) + 0.05);

    /// <summary>CIE L*a*b* under D65.</summary>
    private static double[] Lab(double[] c)
    {
        double x = F(((0.4124564 * c[0]) + (0.3575761 * c[1]) + (0.1804375 * c[2])) / 0.95047);
        double y = F((0.2126729 * c[0]) + (0.7151522 * c[1]) + (0.0721750 * c[2]));
        double z = F(((0.0193339 * c[0]) + (0.1191920 * c[1]) + (0.9503041 * c[2])) / 1.08883);
        return [(116 * y) - 16, 500 * (x - y), 200 * (y - z)];

        static double F(double t) => t > 216.0 / 24389 ? Math.Cbrt(t) : ((24389.0 / 27 * t) + 16) / 116;
    }
}
