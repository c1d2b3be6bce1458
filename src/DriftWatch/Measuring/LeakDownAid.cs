using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;

namespace DriftWatch.Measuring;

/// <summary>The leak of a closed receiver from the fall of its pressure: columns time, pressure and, where it was measured, temperature.</summary>
internal static class LeakDownAid
{
    /// <summary>Standard uncertainty of a volume that none is given for, as a share of it. Source: common practice, no source.</summary>
    private const double VolumeErrorShare = 0.05;

    private static readonly (string Counts, string Remedy)[] Remedies =
    [
        (LeakDown.TooShort, "Let it fall for some minutes: five to ten are good."),
        (LeakDown.TooFew, "Read more often: once a second or two."),
        (LeakDown.Rose, "Switch the compressor off and shut its valve, wait until the receiver is at room temperature, and test again, or give only the rows before the rise."),
        (LeakDown.Unsteady, "Wait until receiver and room are at one temperature, and test again."),
        (LeakDown.NotStraight, "Wait until the receiver is at room temperature, keep every valve as it is, and test for longer."),
        (LeakDown.TooLittle, "Test longer, or with a gauge of finer steps: the leak is smaller than this test can tell."),
    ];

    public static NumberField ReceiverLitres { get; } = new("receiver-litres", 0.01, 1e6);

    public static NumberField VolumeError { get; } = new("volume-error", 0, 1e6);

    public static NumberField GaugeStep { get; } = new("gauge-step", 0, 100, 0);

    public static NumberField GaugeError { get; } = new("gauge-error", 0, 50, 0.5);

    public static NumberField Temperature { get; } = new("temperature", -40, 80, 20);

    public static NumberField TemperatureError { get; } = new("temperature-error", 0, 50);

    public static NumberField Atmosphere { get; } = new("atmosphere", 5, 20, 14.696);

    /// <param name="litres">Of the receiver with all pipes up to the shut valves.</param>
    /// <param name="litresError">Its standard uncertainty; a twentieth of it where null.</param>
    /// <param name="stepPsi">Smallest step of the gauge; 0: taken from the readings.</param>
    /// <param name="gaugePercent">Standard uncertainty of the gauge's scale, percent of a difference.</param>
    /// <param name="celsius">Of the air where the table has none.</param>
    /// <param name="unseenK">By how much, ±, the air may have warmed or cooled unseen.</param>
    /// <param name="atmospherePsi">Of the place.</param>
    public static LeakDownSettings Settings(
        double litres, double? litresError, double stepPsi, double gaugePercent, double celsius, double? unseenK, double atmospherePsi)
    {
        var standard = new LeakDownSettings { VolumeLitres = new Uncertain(litres, litresError ?? (VolumeErrorShare * litres)) };
        return standard with
        {
            GaugeResolutionPsi = stepPsi,
            GaugeScaleShare = gaugePercent / 100,
            TemperatureC = celsius,
            UnseenTemperatureK = unseenK ?? standard.UnseenTemperatureK,
            ThermometerDriftK = unseenK ?? standard.ThermometerDriftK,
            AtmospherePsi = atmospherePsi,
        };
    }

    /// <exception cref="Acquisition.Recordings.RecordingException">A mistake in the table.</exception>
    /// <exception cref="CannotTellException">The test can't tell a leak.</exception>
    public static MeasureReport Read(NumberTable table, LeakDownSettings settings)
    {
        double[] seconds = table.Seconds();
        double[] psi = table.Column(table.Needed("pressure in psi", "pressure", "psi", "pressure-psi"), -settings.AtmospherePsi + 0.001, 10000);
        double[] celsius = table.OneOf("temperature", "celsius", "temperature-c") is { } temperature ? table.Column(temperature, -40, 80) : [];
        Answer<LeakDownResult> answer = LeakDown.Measure(seconds, psi, celsius, settings);
        if (!answer.IsKnown)
        {
            throw new CannotTellException($"{answer.Missing}. {Array.Find(Remedies, r => r.Counts == answer.Missing!.What).Remedy}");
        }

        LeakDownResult result = answer.Value;
        string[] leak = [.. Leak(settings, result)];
        return new MeasureReport(
            [Text($"{psi.Length} readings in {result.Minutes:0.0} min, {psi[0]:0.00} to {psi[^1]:0.00} psi; temperature {(celsius.Length > 0 ? "measured" : "not measured")}.")],
            [
                ReportPart.Text(leak),
                ReportPart.Figures(
                    "Standard uncertainties, litres a minute:",
                    [.. result.Budget.Select(line => new[] { line.Name, Text($"{line.StandardUncertaintySlpm:0.000}") }), ["all together", Text($"{result.FlowSlpm.StandardUncertainty:0.000}")]]),
                .. result.Warnings.Count == 0 ? Array.Empty<ReportPart>() : [ReportPart.Text(result.Warnings.Select(w => $"Note: {w}")) with { IsJoined = true }],
            ],
            IsSound: true)
        {
            Headline = leak[0],
            Caution = Cautions.Air,
            Quantities =
            [
                result.IsClaimed
                    ? new Quantity("leak", result.FlowSlpm.Value, "l/min", result.FlowSlpm.StandardUncertainty, result.FlowSlpm.Value - result.ExpandedSlpm, result.FlowSlpm.Value + result.ExpandedSlpm)
                    : new Quantity("leak", null, "l/min", result.FlowSlpm.StandardUncertainty, Upper: result.AtMostSlpm, Missing: "no leak told"),
                new Quantity("fall", result.FallPsiPerMinute, "psi/min"),
            ],
            Drawing = Draw(seconds, psi, result),
        };
    }

    private static IEnumerable<string> Leak(LeakDownSettings settings, LeakDownResult result)
    {
        yield return result.IsClaimed
            ? Text($"Leak: {result.FlowSlpm.Value:0.00} ± {result.ExpandedSlpm:0.00} standard litres a minute ({settings.Confidence:0 %}, k = {result.CoverageFactor:0.00}) at a mean of {result.MeanPressurePsig:0.0} psi.")
            : Text($"Leak: none told; at most {result.AtMostSlpm:0.00} standard litres a minute ({settings.Confidence:0 %}) at a mean of {result.MeanPressurePsig:0.0} psi.");
        double anr = StandardAir.LitresAnrPerStandardLitre;
        yield return result.IsClaimed
            ? Text($"      {anr * result.FlowSlpm.Value:0.00} ± {anr * result.ExpandedSlpm:0.00} litres a minute ANR.")
            : Text($"      at most {anr * result.AtMostSlpm:0.00} litres a minute ANR.");
        yield return "Standard litres are at 20 °C and 101.325 kPa, litres ANR at 20 °C and 100 kPa.";
        yield return Text($"At one temperature the pressure fell by {Math.Round(result.FallPsiPerMinute, 3) + 0.0:0.000} psi a minute.")
            + (Math.Abs(result.TemperatureFallPsiPerMinute) >= 0.0005 ? Text($" Temperature alone made it {(result.TemperatureFallPsiPerMinute < 0 ? "rise" : "fall")} by {Math.Abs(result.TemperatureFallPsiPerMinute):0.000}, which is taken out.") : "");
        if (result.LeftOut > 0)
        {
            yield return Text($"{result.LeftOut} wild readings were left out.");
        }
    }

    /// <summary>The readings, and the fall with what the temperature did in it, through their mean.</summary>
    private static Drawing Draw(double[] seconds, double[] psi, LeakDownResult result)
    {
        double middle = seconds.Average();
        double fall = (result.FallPsiPerMinute + result.TemperatureFallPsiPerMinute) / 60;
        double[] ends = [seconds[0], seconds[^1]];
        return new Drawing("time, s", "pressure, psi")
        {
            Traces =
            [
                new Trace("pressure", false, 0, seconds, psi),
                new Trace("fall", true, 0, ends, [.. ends.Select(t => psi.Average() - (fall * (t - middle)))]),
            ],
        };
    }

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
