using System.Globalization;
using System.Text;
using DriftWatch.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Tests.Analysis.Calibrating;
using DriftWatch.Tests.Analysis.Statistics;

namespace DriftWatch.Tests.Calibrating;

/// <summary>Sheets and channels that several tests of calibrating share.</summary>
internal static class SheetSamples
{
    public static readonly ChannelDefinition Thermometer = new()
    {
        Id = "room", Key = 0, Label = "Room temperature", Unit = "degC", RawUnit = "degC", Period = TimeSpan.FromSeconds(1), Calibration = LineCalibration.Identity,
    };

    /// <summary>25 psi a volt from half a volt on, as ratiometric transmitters have it.</summary>
    public static readonly ChannelDefinition Air = new()
    {
        Id = "regulated-air", Key = 0, Label = "Regulated air", Unit = "psi", RawUnit = "V", Period = TimeSpan.FromMilliseconds(100), Setpoint = 50,
        Calibration = new LineCalibration(25, -12.5),
    };

    /// <summary>JCGM 100:2008, H.3, as a sheet file.</summary>
    public static string H3()
    {
        var text = new StringBuilder("origin-raw = 20\nat-raw = 30\n[reference]\nname = \"reference thermometer\"\n");
        for (int i = 0; i < CalibrationWorkTests.H3Readings.Length; i++)
        {
            double t = CalibrationWorkTests.H3Readings[i];
            text.Append(CultureInfo.InvariantCulture, $"[[point]]\nreference = {t + CalibrationWorkTests.H3Corrections[i]:0.000}\nraw = [{t:0.000}]\n");
        }

        return text.ToString();
    }

    /// <summary>Five points up and four down over 0 to 100 psi, five readings each, with noise of 0.05 psi and 0.1 psi of hysteresis.</summary>
    /// <param name="unit">Of the reference.</param>
    /// <param name="offset">How much too high the sensor has come to read, psi.</param>
    public static CalibrationSheet AirSheet(string unit = "psi", double offset = 0)
    {
        var random = new Random(7);
        double toUnit = unit == "bar" ? 0.0689475729 : 1;
        (double Psi, bool Falling)[] way = [(0, false), (25, false), (50, false), (75, false), (100, false), (75, true), (50, true), (25, true), (0, true)];
        return new CalibrationSheet
        {
            Reference = new ReferenceSheet { Name = "test gauge", Serial = "G-7", Certificate = "2026-0143", Unit = unit, Uncertainty = 0.05 * toUnit, Resolution = 0.01 * toUnit, Due = "2027-01-31" },
            Tolerance = 0.5,
            Resolution = 0.001,
            IntervalMonths = 12,
            Conditions = "at the machine, 21 °C",
            Points =
            [
                .. way.Select(p => new PointSheet
                {
                    Nominal = p.Psi * toUnit,
                    Reference = p.Psi * toUnit,
                    Settled = true,
                    Raw = [.. Enumerable.Range(0, 5).Select(_ =>
                        Math.Round(0.5 + ((p.Psi + offset + (p.Falling ? 0.1 : 0) + (0.05 * Series.Normal(random))) / 25), 4))],
                }),
            ],
        };
    }

    public static CalibrationSheetResult Load(string text)
    {
        string path = Path.GetTempFileName();
        try
        {
            File.WriteAllText(path, text);
            return CalibrationSheetFile.Load(path);
        }
        finally
        {
            File.Delete(path);
        }
    }
}
