namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>
/// What a transverse-scan machine of one television standard does in a revolution, and what a displaced guide or head does to
/// the timing there. Everything follows from three numbers: revolutions a second, lines a second and the radius of the tips' circle.
/// </summary>
/// <remarks>
/// 240 and 250 revolutions a second of four heads are the published 960 and 1000 tracks a second of the two standards. The tip
/// circle of 2.067 in across is from memory; its error enters every ns-per-mil below in proportion.
/// </remarks>
public sealed record TimingStandard
{
    /// <summary>Half of 2.067 in. Source: from memory.</summary>
    public const double TipRadiusInches = 1.0335;

    /// <summary>Exact: the international inch.</summary>
    public const double MicrometresPerMil = 25.4;

    /// <summary>Half of what a head sweeps while it has the picture; four heads share the turn.</summary>
    public const double HalfPassDegrees = 45;

    private const double MetresPerInch = 0.0254;

    private TimingStandard(string name, double revolutionsPerSecond, double linesPerSecond, double? subcarrierHz)
    {
        Name = name;
        RevolutionsPerSecond = revolutionsPerSecond;
        LinesPerSecond = linesPerSecond;
        SubcarrierHz = subcarrierHz;
    }

    /// <summary>525 lines, 60 fields, monochrome: 240 rev/s, 15 750 lines/s.</summary>
    public static TimingStandard Mono525 { get; } = new("525/60", 240, 15_750, null);

    /// <summary>525 lines in colour: both slower by 1000/1001; subcarrier 315/88 MHz (published, SMPTE 170M).</summary>
    public static TimingStandard Colour525 { get; } = new("525/60 colour", 240 / 1.001, 15_750 / 1.001, 315e6 / 88);

    /// <summary>625 lines, 50 fields: 250 rev/s, 15 625 lines/s; subcarrier 4.43361875 MHz (published, ITU-R BT.470).</summary>
    public static TimingStandard Line625 { get; } = new("625/50", 250, 15_625, 4_433_618.75);

    /// <summary>All three.</summary>
    public static IReadOnlyList<TimingStandard> All { get; } = [Mono525, Colour525, Line625];

    /// <summary>As people write it: '525/60', '525/60 colour', '625/50'.</summary>
    public string Name { get; }

    /// <summary>Of the head wheel.</summary>
    public double RevolutionsPerSecond { get; }

    /// <summary>Television lines a second.</summary>
    public double LinesPerSecond { get; }

    /// <summary>Colour subcarrier in Hz; null where there is none.</summary>
    public double? SubcarrierHz { get; }

    /// <summary>65.625 or 62.5.</summary>
    public double LinesPerRevolution => LinesPerSecond / RevolutionsPerSecond;

    /// <summary>16.406 or 15.625: passes take turns with 16 and 17 (15 and 16) lines, and the lines walk through the pass.</summary>
    public double LinesPerPass => LinesPerRevolution / 4;

    /// <summary>What the wheel turns in one line: about 5.5 degrees.</summary>
    public double DegreesPerLine => 360 / LinesPerRevolution;

    /// <summary>Speed of the tips, v = 2πfR.</summary>
    public double TipSpeedMetresPerSecond => 2 * Math.PI * RevolutionsPerSecond * TipRadiusInches * MetresPerInch;

    /// <summary>1/v: what one mil of guide does where it does most. 641.650, 642.292 or 615.984.</summary>
    public double NsPerMil => 1e9 / (2 * Math.PI * RevolutionsPerSecond * TipRadiusInches * 1000);

    /// <summary>The same for a micrometre.</summary>
    public double NsPerMicrometre => NsPerMil / MicrometresPerMil;

    /// <summary>Skew from end to end of a pass of ±45° for a mil of guide in or out: 2 sin 45°/v.</summary>
    public double SkewPeakToPeakNsPerMil => SkewPeakToPeak * NsPerMil;

    /// <summary>Sagitta of the scallop over a pass of ±45° for a mil of guide height: (1 − cos 45°)/v.</summary>
    public double SagittaNsPerMil => Sagitta * NsPerMil;

    /// <summary>What a head that lags by an arc-minute is late.</summary>
    public double NsPerArcMinute => 1e9 / (RevolutionsPerSecond * 360 * 60);

    /// <summary>
    /// Hue error at the end of a line in mid-pass for a mil of guide in or out, where nothing corrects within the line: the
    /// skew's slope over one line, in degrees of subcarrier. Null where there is no subcarrier.
    /// </summary>
    public double? HueDegreesPerMil => NsPerMil * 1e-9 * DegreesPerLine * Math.PI / 180 * 360 * SubcarrierHz;

    /// <summary>End-to-end skew for a coefficient of sin θ of 1: 2 sin 45°.</summary>
    public static double SkewPeakToPeak { get; } = 2 * Math.Sin(HalfPassDegrees * Math.PI / 180);

    /// <summary>Sagitta for a coefficient of cos θ of 1: 1 − cos 45°.</summary>
    public static double Sagitta { get; } = 1 - Math.Cos(HalfPassDegrees * Math.PI / 180);

    /// <summary>Mean of cos θ over a pass of ±45°, 2√2/π = 0.900316: what the scallop is counted from, whatever the grid.</summary>
    public static double MeanCosine { get; } = 2 * Math.Sqrt(2) / Math.PI;

    public override string ToString() => Name;
}
