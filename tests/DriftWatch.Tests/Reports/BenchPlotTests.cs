using System.Globalization;
using System.Xml.Linq;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Plots;
using DriftWatch.Running;
using DriftWatch.Tests.Recordings;
using SkiaSharp;

namespace DriftWatch.Tests.Reports;

public sealed class BenchPlotTests : IDisposable
{
    private const long Second = EngineTime.NanosecondsPerSecond;

    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_png_has_its_size_its_trace_and_its_text()
    {
        var plot = new BenchPlot(Data(), new PlotStyle { Width = 1000, PanelHeight = 200 });
        using var stream = new MemoryStream();
        plot.WritePng(stream);
        using SKBitmap picture = SKBitmap.Decode(stream.ToArray());
        Assert.Equal((1000, plot.Height), (picture.Width, picture.Height));

        // Opaque everywhere: a viewer with a dark ground must not show through.
        Assert.Equal(0, Count(picture, new SKRectI(0, 0, 1000, plot.Height), c => c.Alpha < 255));

        // The heading and both panels' titles are text on white; were a font missing there would be no ink at all.
        Assert.InRange(Ink(picture, new SKRectI(84, 10, 500, 36)), 100, 5000);
        Assert.InRange(Ink(picture, new SKRectI(84, 64, 500, 86)), 100, 5000);
        Assert.InRange(Ink(picture, new SKRectI(84, 264, 500, 286)), 100, 5000);
        Assert.InRange(Ink(picture, new SKRectI(84, plot.Height - 36, 900, plot.Height - 16)), 100, 5000);

        // The gap between 100 s and 200 s of 300 s is a gap: no trace colour in its middle, some on both sides.
        Assert.True(Coloured(picture, new SKRectI(100, 90, 300, 250)) > 100);
        Assert.Equal(0, Coloured(picture, new SKRectI(450, 130, 500, 250)));
        Assert.True(Coloured(picture, new SKRectI(760, 90, 900, 250)) > 100);
    }

    [Fact]
    public void An_svg_is_well_formed_scales_and_holds_its_words()
    {
        var plot = new BenchPlot(Data(), new PlotStyle());
        using var stream = new MemoryStream();
        plot.WriteSvg(stream);
        stream.Position = 0;
        XElement root = XDocument.Load(stream).Root!;
        Assert.Equal("svg", root.Name.LocalName);
        Assert.Equal($"0 0 {plot.Width} {plot.Height}", root.Attribute("viewBox")!.Value);
        string words = string.Join('|', root.Descendants().Where(e => e.Name.LocalName == "text").Select(e => e.Value));
        Assert.Contains("Annex", words, StringComparison.Ordinal);
        Assert.Contains("low alarm 45 psi", words, StringComparison.Ordinal);
        Assert.Contains("Air fell", words, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Drift µV Ω Δ ° ≥ ± − ↓ …")]
    [InlineData("Ångström Žižkov")]
    public void The_fonts_that_come_with_the_program_have_every_sign_plots_use(string text)
    {
        foreach (SKTypeface face in (SKTypeface[])[PlotFonts.Regular, PlotFonts.Bold])
        {
            Assert.DoesNotContain((ushort)0, face.GetGlyphs(text));
        }

        Assert.NotNull(typeof(PlotFonts).Assembly.GetManifestResourceInfo("DriftWatch.Reports.fonts.DejaVuSans.subset.ttf"));
    }

    [Fact]
    public void A_long_night_keeps_a_dropout_of_one_sample_in_bounded_memory()
    {
        var trace = new Trace(RecordingFolder.Bench("air").Channels[0]);
        for (int i = 0; i < 864_000; i++)
        {
            double value = i == 432_123 ? 3 : 50;
            trace.Add(i * 100_000_000L, value, value, value);
        }

        Assert.InRange(trace.Buckets.Count, 1500, 4000);
        Assert.Equal(3, trace.Buckets.Min(b => b.Minimum));
        Assert.Equal(864_000, trace.Buckets.Sum(b => b.Count));
        Assert.Single(trace.Pieces());
    }

    [Fact]
    public void Ticks_stand_at_round_local_times_and_follow_the_clock_over_a_step()
    {
        var anchors = new AnchorTable();
        long utc = UtcText.ToNanoseconds(new DateTimeOffset(2026, 3, 1, 23, 50, 7, TimeSpan.Zero));
        anchors.Add(new TimeAnchor(default, utc));
        Assert.Equal(
            ["23:55\n1 Mar 2026", "00:00\n2 Mar 2026", "00:05", "00:10"],
            TimeTicks.For(anchors, 0, 1200 * Second, 5, TimeZoneInfo.Utc).Select(t => t.Label));
        anchors.Add(new TimeAnchor(new EngineTime(600 * Second), utc)); // set back ten minutes
        Assert.Equal(
            ["23:55\n1 Mar 2026", "00:00\n2 Mar 2026", "23:55\n1 Mar 2026", "00:00\n2 Mar 2026"],
            TimeTicks.For(anchors, 0, 1200 * Second, 5, TimeZoneInfo.Utc).Select(t => t.Label));
        var zone = TimeZoneInfo.CreateCustomTimeZone("Annex", TimeSpan.FromMinutes(90), "Annex", "Annex");
        Assert.Equal("01:30\n2 Mar 2026", TimeTicks.For(anchors, 0, 599 * Second, 1, zone)[0].Label);
    }

    [Fact]
    public void A_finding_is_drawn_as_severe_as_it_ever_was_and_in_the_words_of_that()
    {
        FindingLine alarm = Data().Findings[0];
        FindingLine[] lines =
        [
            alarm with { Phase = FindingPhase.Raised, Severity = Severity.Advisory, Text = "46 psi" },
            alarm with { Phase = FindingPhase.Updated, Severity = Severity.Alarm, Text = "43 psi" },
            alarm with { Phase = FindingPhase.Updated, Severity = Severity.Alarm, Text = "40 psi" },
            alarm with { Phase = FindingPhase.Updated, Severity = Severity.Advisory, Text = "22 psi, the wheel stands" },
            alarm with { Phase = FindingPhase.Ended, Severity = Severity.Advisory, Text = "back above 48 psi" },
        ];
        FindingLine drawn = Assert.Single(Data(lines).Findings);
        Assert.Equal((Severity.Alarm, "40 psi"), (drawn.Severity, drawn.Text));
    }

    private PlotData Data(params FindingLine[] lines)
    {
        var text = new System.Text.StringBuilder("time,air,vacuum\n");
        for (int i = 0; i < 3000; i++)
        {
            if (i is > 1000 and < 2000)
            {
                continue;
            }

            string time = UtcText.FromNanoseconds((1_772_398_800L * Second) + (i * 100_000_000L));
            text.Append(time).Append(',').Append((50 + Math.Sin(i / 20.0)).ToString("F2", CultureInfo.InvariantCulture))
                .Append(',').Append(i % 50 == 0 ? "!no-answer" : "12.5").Append('\n');
        }

        BenchDefinition bench = RecordingFolder.Bench("air", "vacuum");
        bench = bench with
        {
            Channels =
            [
                bench.Channels[0] with
                {
                    Setpoint = 50,
                    Limits = [new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = 45, Source = "bench file" }],
                },
                bench.Channels[1],
            ],
        };
        var finding = new FindingLine
        {
            Id = "f1", Phase = FindingPhase.Raised, Input = 9, Bench = "annex", BenchHash = "0", Kind = "air-below-setpoint", Channel = "air",
            Severity = Severity.Alarm, Start = new EngineTime(220 * Second), End = new EngineTime(240 * Second), RaisedAt = new EngineTime(221 * Second),
            StartUtc = 0, EndUtc = 0, RaisedUtc = 0, Cause = "unknown", State = MachineState.AirUp, Text = "Air fell to 44 psi.",
        };
        using var source = new CsvSource(_folder.Write("a.csv", text.ToString()), bench, ignoreUnknownColumns: false);
        return PlotData.Read(source, bench, bench.Channels, null, null, lines.Length > 0 ? lines : [finding], progress: null, CancellationToken.None)!;
    }

    private static int Ink(SKBitmap picture, SKRectI area) => Count(picture, area, c => c.Red + c.Green + c.Blue < 450);

    private static int Coloured(SKBitmap picture, SKRectI area) => Count(picture, area, c => c.Blue > c.Red + 40 && c.Red < 200);

    private static int Count(SKBitmap picture, SKRectI area, Func<SKColor, bool> counts)
    {
        int count = 0;
        for (int y = area.Top; y < area.Bottom; y++)
        {
            for (int x = area.Left; x < area.Right; x++)
            {
                count += counts(picture.GetPixel(x, y)) ? 1 : 0;
            }
        }

        return count;
    }
}
