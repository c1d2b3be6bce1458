using System.Text.Json;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Analysis.Calibrating;
using Json.Schema;

namespace DriftWatch.Tests.Calibrating;

/// <summary>A sheet to a document to a calibration: the published example by file, defaults from the last sheet, drift, and what is refused.</summary>
public sealed class CalibrationMakerTests
{
    private static readonly long Day0 = UtcText.ToNanoseconds(new DateTimeOffset(2026, 3, 14, 12, 0, 0, TimeSpan.Zero));
    private const long YearNanoseconds = (long)(365.25 * 86_400e9);

    [Fact]
    public void The_thermometer_of_JCGM_100_H_3_goes_through_a_sheet_file_as_published()
    {
        CalibrationSheetResult read = SheetSamples.Load(SheetSamples.H3());
        Assert.Empty(read.Mistakes);
        CalibrationDocument document = CalibrationMaker.Make(Context(SheetSamples.Thermometer), read.Sheet!, Guid.CreateVersion7());
        CoefficientFacts[] y = [.. document.Fit.Coefficients];
        Assert.Equal("-0.1712", (y[0].Value - 20).ToString("0.0000"));
        Assert.Equal("0.0029", y[0].Uncertainty.ToString("0.0000"));
        Assert.Equal("0.00218", (y[1].Value - 1).ToString("0.00000"));
        Assert.Equal("0.00067", y[1].Uncertainty.ToString("0.00000"));
        Assert.Equal("-0.930", document.Fit.Correlation!.Value.ToString("0.000"));
        Assert.Equal("0.0035", document.Fit.ResidualDeviation.ToString("0.0000"));
        Assert.Equal("-0.1494", (document.Budget.Value - 30).ToString("0.0000"));
        Assert.Equal("0.0041", document.Budget.Lines[0].Uncertainty!.Value.ToString("0.0000"));
        Assert.Equal(9, document.Budget.Lines[0].Freedom);

        // And the calibration that is entered corrects a reading of 30 °C by the published amount.
        Assert.Equal("-0.1494", (document.ToCalibration().Convert(30) - 30).ToString("0.0000"));
    }

    [Fact]
    public void A_document_follows_its_published_schema_reads_back_and_rides_in_the_input()
    {
        CalibrationDocument document = CalibrationMaker.Make(Context(SheetSamples.Air), SheetSamples.AirSheet(), Guid.CreateVersion7());
        Assert.True(Schema().Evaluate(document.ToJson()).IsValid, document.ToJson().ToString());
        CalibrationDocument h3 = CalibrationMaker.Make(Context(SheetSamples.Thermometer), SheetSamples.Load(SheetSamples.H3()).Sheet!, Guid.CreateVersion7());
        Assert.True(Schema().Evaluate(h3.ToJson()).IsValid, h3.ToJson().ToString());
        Assert.False(Schema().Evaluate((document with { Id = Guid.Empty }).ToJson()).IsValid);

        var input = EngineInput.OfCalibration(default, 3, document.ToCalibration());
        var back = (Calibration)PayloadJson.FromUtf8(InputKind.Calibration, PayloadJson.ToUtf8(input));
        Assert.Equal(document.ToFile(), CalibrationDocument.Of(back)!.ToFile());
        Assert.Equal(PayloadJson.ToUtf8(input), PayloadJson.ToUtf8(EngineInput.OfCalibration(default, 3, back)));
        Assert.Equal(document.Id, back.Id);
        Assert.Equal(2, back.Version);
        Assert.Equal(new DateOnly(2027, 3, 14), back.Due);
        Assert.False(back.IsAppliedBack);
    }

    [Fact]
    public void As_found_as_left_and_a_reference_in_another_unit_are_in_the_channels_unit()
    {
        // 0 to 100 psi on a gauge in bar; the sensor has gone 1 psi high.
        CalibrationDocument document = CalibrationMaker.Make(Context(SheetSamples.Air), SheetSamples.AirSheet(unit: "bar", offset: 1), Guid.CreateVersion7());
        Assert.InRange(document.AsFound.Largest, 0.9, 1.25);
        Assert.Equal("outside", document.AsFound.Conformity);
        Assert.Equal("within", document.AsLeft.Conformity);
        Assert.Equal(100, document.Points.Max(p => p.Reference), 0.01);
        Assert.Equal(50, document.Budget.Value, 1.2); // drawn up at the channel's setpoint
        Assert.Equal(0.05 / 2, document.Reference.StandardUncertainty, 1e-6);
        Assert.NotNull(document.Hysteresis);
    }

    [Fact]
    public void What_is_left_out_comes_from_the_last_sheet_and_drift_is_told_against_it_by_the_year()
    {
        CalibrationDocument first = CalibrationMaker.Make(Context(SheetSamples.Air), SheetSamples.AirSheet(), Guid.CreateVersion7());
        Assert.Equal("uncertainty of the new curve and its reference; that of the calibration before it is not known", first.Drift.Basis);
        Assert.Null(first.Drift.At[0].PerYear);

        CalibrationSheet later = SheetSamples.AirSheet(offset: 1) with { Tolerance = null, Resolution = null, IntervalMonths = null };
        CalibrationDocument second = CalibrationMaker.Make(
            Context(SheetSamples.Air) with { InForce = first.ToCalibration(), EnteredUtc = Day0 + (2 * YearNanoseconds) }, later, Guid.CreateVersion7());
        Assert.Equal(0.5, second.Tolerance);
        Assert.Equal(12, second.IntervalMonths);
        Assert.Equal(3, second.Version);
        Assert.Contains("cancels", second.Drift.Basis, StringComparison.Ordinal);
        DriftPoint middle = second.Drift.At[1];
        Assert.Equal(-1, middle.Difference, 0.1);
        Assert.Equal(middle.Difference / 2, middle.PerYear!.Value, 1e-6);
        Assert.True(middle.IsSignificant);
        Assert.Equal(730.5, second.Drift.Days!.Value, 1e-6);
    }

    [Fact]
    public void What_makes_no_calibration_is_refused_with_its_field_and_a_remedy()
    {
        CalibrationSheet good = SheetSamples.AirSheet();
        Refused("points", good with { Points = [.. good.Points!.Take(2)] });
        Refused("points[1].raw", good with { Points = [good.Points![0], good.Points[1] with { Raw = [] }] });
        Refused("points[0].reference", good with { Points = [good.Points![0] with { Reference = null }] });
        Refused("points[0].direction", good with { Points = [good.Points![0] with { Direction = "left" }] });
        Refused("reference.name", good with { Reference = good.Reference! with { Name = " " } });
        Refused("reference.unit", good with { Reference = good.Reference! with { Unit = "degC" } });
        Refused("reference.due", good with { Reference = good.Reference! with { Due = "soon" } });
        Refused("tolerance", good with { Tolerance = 0 });
        Refused("degree", good with { Degree = 6 });
        Assert.Equal("channel", Assert.Throws<SheetException>(() => CalibrationMaker.Make(
            Context(SheetSamples.Air with { Kind = ChannelKind.Frame }), good, Guid.CreateVersion7())).Field);
    }

    [Fact]
    public void Mistakes_of_a_sheet_file_are_all_named_with_their_place()
    {
        CalibrationSheetResult read = SheetSamples.Load("tolerence = 0.5\n[reference]\nunit = \"PSI\"\n[[point]]\nreference = 1\n");
        Assert.Null(read.Sheet);
        Assert.Equal([1, 2, 3, 4], read.Mistakes.Select(m => m.Line));
    }

    private static void Refused(string field, CalibrationSheet sheet)
    {
        SheetException refused = Assert.Throws<SheetException>(() => CalibrationMaker.Make(Context(SheetSamples.Air), sheet, Guid.CreateVersion7()));
        Assert.Equal(field, refused.Field);
        Assert.NotEmpty(refused.Remedy);
    }

    private static CalibrationContext Context(ChannelDefinition channel) => new()
    {
        Bench = "practice",
        Channel = channel,
        InForce = channel.Calibration,
        By = "Ida Wren",
        EnteredUtc = Day0,
    };

    private static readonly Lazy<JsonSchema> Published = new(() =>
    {
        using Stream stream = typeof(CalibrationDocument).Assembly.GetManifestResourceStream("DriftWatch.Calibrating.schemas.calibration.schema.json")!;
        using var reader = new StreamReader(stream);
        return JsonSchema.FromText(reader.ReadToEnd());
    });

    private static JsonSchema Schema() => Published.Value;
}
