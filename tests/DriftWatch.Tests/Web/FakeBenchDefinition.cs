using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Tests.Web;

/// <summary>Sixteen series at 10 Hz and a frame, as a whole bench has them.</summary>
public static class FakeBenchDefinition
{
    public static BenchDefinition Make(string id, IReadOnlyList<ChannelDefinition>? channels = null, IReadOnlyList<QuantityDefinition>? quantities = null) => new()
    {
        Id = id,
        Label = "Practice bench",
        SourceHash = new string('a', 64),
        Machine = new MachineDefinition { Label = "Machine 2, Quarry Lane archive", Standard = "525/60" },
        Instruments =
        [
            new InstrumentDefinition
            {
                Id = "rig",
                Label = "Practice rig",
                Profile = "practice-rig",
                Connection = new ConnectionDefinition { Kind = ConnectionKind.Practice },
            },
        ],
        Channels = channels ?? WholeBench(),
        Quantities = quantities ?? [],
    };

    /// <summary>Middle, swing (in the channel's unit) and period in seconds of a channel's invented motion.</summary>
    public static (double Middle, double Swing, double PeriodSeconds) Motion(ChannelDefinition channel) => channel.Role switch
    {
        ChannelRole.SupplyAir => (92, 4, 95),
        ChannelRole.RegulatedAir => (50, 0.25, 140),
        ChannelRole.DewPoint => (-24, 0.8, 300),
        ChannelRole.GuideVacuum => (11.2, 0.2, 60),
        ChannelRole.RfLevel => (-3 - (0.4 * (channel.Head ?? 0)), 0.5, 45),
        ChannelRole.ControlTrack => (-6, 0.3, 70),
        ChannelRole.CorrectorUse => (31, 6, 30),
        ChannelRole.WheelSpeed => (240, 0.01, 20),
        ChannelRole.SyncLevel => (40, 0.3, 50),
        ChannelRole.VideoLevel => (100, 1, 33),
        ChannelRole.AudioLevel => (-18, 3, 11),
        ChannelRole.AmbientTemperature => (21.4, 0.2, 400),
        ChannelRole.AmbientHumidity => (41, 0.6, 330),
        _ => (5, 0.01, 100),
    };

    public static ChannelDefinition Series(
        int key, string id, string label, ChannelRole role, string unit, double? setpoint = null, int? head = null, params LimitDefinition[] limits) => new()
        {
            Id = id,
            Key = key,
            Label = label,
            Role = role,
            Head = head,
            Unit = unit,
            RawUnit = "V",
            Instrument = "rig",
            Input = id,
            Period = TimeSpan.FromMilliseconds(100),
            Calibration = LineCalibration.Identity,
            Setpoint = setpoint,
            Limits = limits,
        };

    public static LimitDefinition Limit(LimitSide side, Severity severity, double value, LimitReference reference = LimitReference.Absolute) => new()
    {
        Side = side,
        Severity = severity,
        Value = value,
        Reference = reference,
        Source = "common practice, no source",
    };

    private static ChannelDefinition[] WholeBench()
    {
        LimitDefinition rfLow = Limit(LimitSide.Low, Severity.Advisory, -2, LimitReference.Baseline);
        return
        [
            Series(1, "supply-air", "Supply air", ChannelRole.SupplyAir, "psi", null, null, Limit(LimitSide.Low, Severity.Advisory, 75) with { OffDelay = TimeSpan.FromSeconds(12) }),
            Series(2, "regulated-air", "Regulated air", ChannelRole.RegulatedAir, "psi", 50, null,
                Limit(LimitSide.Low, Severity.Advisory, 48), Limit(LimitSide.High, Severity.Advisory, 52),
                Limit(LimitSide.Low, Severity.Alarm, 45), Limit(LimitSide.High, Severity.Alarm, 56)),
            Series(3, "dew-point", "Dew point", ChannelRole.DewPoint, "degC", null, null,
                Limit(LimitSide.High, Severity.Advisory, -20), Limit(LimitSide.High, Severity.Alarm, 3)),
            Series(4, "guide-vacuum", "Guide vacuum", ChannelRole.GuideVacuum, "inH2O", null, null,
                Limit(LimitSide.Low, Severity.Advisory, 10), Limit(LimitSide.Low, Severity.Alarm, 8.4)),
            Series(5, "rf-1", "RF head 1", ChannelRole.RfLevel, "dB", null, 1, rfLow),
            Series(6, "rf-2", "RF head 2", ChannelRole.RfLevel, "dB", null, 2, rfLow),
            Series(7, "rf-3", "RF head 3", ChannelRole.RfLevel, "dB", null, 3, rfLow),
            Series(8, "rf-4", "RF head 4", ChannelRole.RfLevel, "dB", null, 4, rfLow),
            Series(9, "control-track", "Control track", ChannelRole.ControlTrack, "dB"),
            Series(10, "corrector-use", "Corrector use", ChannelRole.CorrectorUse, "%", null, null,
                Limit(LimitSide.High, Severity.Advisory, 65), Limit(LimitSide.High, Severity.Alarm, 80)),
            Series(11, "wheel-speed", "Wheel speed", ChannelRole.WheelSpeed, "rev/s"),
            new ChannelDefinition
            {
                Id = "timing",
                Key = 12,
                Label = "Timing error",
                Kind = ChannelKind.Frame,
                Role = ChannelRole.TimingError,
                Unit = "ns",
                RawUnit = "ns",
                Instrument = "rig",
                Input = "timing",
                Period = TimeSpan.FromSeconds(1),
                Calibration = LineCalibration.Identity,
                Axis = FrameAxis.Even(16),
            },
            Series(13, "sync-level", "Sync", ChannelRole.SyncLevel, "IRE", 40, null,
                Limit(LimitSide.Low, Severity.Advisory, 38), Limit(LimitSide.High, Severity.Advisory, 42),
                Limit(LimitSide.Low, Severity.Alarm, 36), Limit(LimitSide.High, Severity.Alarm, 44)),
            Series(14, "video-level", "White", ChannelRole.VideoLevel, "IRE"),
            Series(15, "audio-level", "Audio", ChannelRole.AudioLevel, "dB"),
            Series(16, "room-temperature", "Room temperature", ChannelRole.AmbientTemperature, "degC"),
            Series(17, "room-humidity", "Room humidity", ChannelRole.AmbientHumidity, "%RH"),
        ];
    }
}
