using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Tests.Watch.Support;

/// <summary>Benches made by hand, with the limits of the threshold table.</summary>
internal static class TestBench
{
    public const int Air = 1;
    public const int Supply = 2;
    public const int Vacuum = 3;
    public const int Head1 = 4;
    public const int Control = 8;
    public const int Lock = 9;
    public const int Timing = 10;
    public const int Corrector = 11;

    private static readonly MachineState[] Play = [MachineState.Running, MachineState.Locked];

    public static BenchDefinition Of(params ChannelDefinition[] channels) => new()
    {
        Id = "lab",
        Label = "Bench of the tests",
        SourceHash = "0123456789abcdef",
        Machine = new MachineDefinition { Label = "Machine" },
        Instruments = [.. channels.Select(c => c.Instrument).OfType<string>().Distinct().Select(i => new InstrumentDefinition
        {
            Id = i,
            Label = "Instrument " + i,
            Profile = "test",
            Connection = new ConnectionDefinition { Kind = ConnectionKind.Practice },
        })],
        Channels = channels,
    };

    /// <summary>Air, supply and vacuum on one instrument; four heads, control and lock on another; timing and corrector on a third.</summary>
    public static BenchDefinition Full(Func<ChannelDefinition, bool>? without = null) => Of([.. AllChannels().Where(c => without?.Invoke(c) != true)]);

    public static IEnumerable<ChannelDefinition> AllChannels()
    {
        yield return AirChannel() with { Instrument = "board" };
        yield return SupplyChannel() with { Instrument = "board" };
        yield return VacuumChannel() with { Instrument = "board" };
        for (int head = 1; head <= 4; head++)
        {
            yield return RfChannel(head) with { Instrument = "detector" };
        }

        yield return Series(Control, "control-track", ChannelRole.ControlTrack, "dB") with
        {
            Instrument = "detector",
            Limits =
            [
                new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Advisory, Reference = LimitReference.Baseline, Value = -3, OnDelay = TimeSpan.FromSeconds(2), JudgedIn = Play, Source = "common practice" },
                new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Reference = LimitReference.Baseline, Value = -6, OnDelay = TimeSpan.FromSeconds(0.5), JudgedIn = Play, Source = "common practice" },
            ],
        };
        yield return Series(Lock, "servo-lock", ChannelRole.ServoLock, "1") with { Instrument = "detector" };
        yield return Series(Timing, "timing", ChannelRole.TimingError, "ns") with
        {
            Kind = ChannelKind.Frame,
            Instrument = "timer",
            Axis = FrameAxis.Even(16),
            Limits = [new LimitDefinition { Side = LimitSide.High, Severity = Severity.Advisory, Value = 300, JudgedIn = [MachineState.Locked], Source = "common practice" }],
        };
        yield return Series(Corrector, "corrector-use", ChannelRole.CorrectorUse, "%") with
        {
            Instrument = "timer",
            Limits = [new LimitDefinition { Side = LimitSide.High, Severity = Severity.Alarm, Value = 80, OnDelay = TimeSpan.FromSeconds(0.5), JudgedIn = [MachineState.Locked], Source = "common practice" }],
        };
    }

    public static ChannelDefinition Series(int key, string id, ChannelRole role, string unit) => new()
    {
        Id = id,
        Key = key,
        Label = id,
        Role = role,
        Unit = unit,
        RawUnit = unit,
        Period = TimeSpan.FromMilliseconds(100),
        Calibration = LineCalibration.Identity,
    };

    /// <summary>Regulated air at 50 psi in the given unit, with the limits of the threshold table converted.</summary>
    public static ChannelDefinition AirChannel(string unit = "psi")
    {
        double In(double psi) => Unit.Parse("psi").Convert(psi, Unit.Parse(unit));
        return Series(Air, "regulated-air", ChannelRole.RegulatedAir, unit) with
        {
            Setpoint = In(50),
            Limits =
            [
                new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Advisory, Value = In(48), Deadband = In(0.5), OnDelay = TimeSpan.FromSeconds(10), Source = "common practice" },
                new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = In(45), Deadband = In(1), OnDelay = TimeSpan.FromSeconds(1), Source = "common practice" },
                new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Value = In(43.75), Deadband = In(1), Source = "derived: 87.5 % trip ratio" },
                new LimitDefinition { Side = LimitSide.High, Severity = Severity.Advisory, Value = In(52), Deadband = In(0.5), OnDelay = TimeSpan.FromSeconds(10), Source = "common practice" },
                new LimitDefinition { Side = LimitSide.High, Severity = Severity.Alarm, Value = In(56), Deadband = In(1), OnDelay = TimeSpan.FromSeconds(1), Source = "common practice" },
            ],
        };
    }

    public static ChannelDefinition SupplyChannel() => Series(Supply, "supply-air", ChannelRole.SupplyAir, "psi");

    public static ChannelDefinition VacuumChannel(string unit = "inH2O") => Series(Vacuum, "guide-vacuum", ChannelRole.GuideVacuum, unit) with
    {
        Limits =
        [
            new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Advisory, Reference = LimitReference.BaselineFraction, Value = 0.9, Deadband = 0.03, OnDelay = TimeSpan.FromSeconds(5), JudgedIn = Play, Source = "derived" },
            new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Reference = LimitReference.BaselineFraction, Value = 0.75, Deadband = 0.05, OnDelay = TimeSpan.FromSeconds(1), JudgedIn = Play, Source = "derived" },
        ],
    };

    public static ChannelDefinition RfChannel(int head) => Series(Head1 + head - 1, "rf-" + head, ChannelRole.RfLevel, "dB") with
    {
        Head = head,
        Limits =
        [
            new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Advisory, Reference = LimitReference.Baseline, Value = -2, Deadband = 0.5, OnDelay = TimeSpan.FromSeconds(5), JudgedIn = Play, Source = "common practice" },
            new LimitDefinition { Side = LimitSide.Low, Severity = Severity.Alarm, Reference = LimitReference.Baseline, Value = -6, Deadband = 1, OnDelay = TimeSpan.FromSeconds(0.5), JudgedIn = Play, Source = "half amplitude" },
        ],
    };
}
