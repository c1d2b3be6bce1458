using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Tests.Support;

/// <summary>A small bench of our own for tests that need any bench at all: air, vacuum and a timing frame.</summary>
internal static class SampleBench
{
    public const int Air = 0;
    public const int Vacuum = 1;
    public const int Timing = 2;

    public static BenchDefinition Create(string hash = "0123abcd") => new()
    {
        Id = "marram-quad-1",
        Label = "Marram Coast, machine 1",
        SourceHash = hash,
        Machine = new MachineDefinition { Label = "Machine 1" },
        Instruments =
        [
            new InstrumentDefinition
            {
                Id = "board",
                Profile = "line-streamer",
                Connection = new ConnectionDefinition { Kind = ConnectionKind.Serial, Port = "/dev/ttyBENCH0" },
            },
        ],
        Channels =
        [
            new ChannelDefinition
            {
                Id = "regulated-air", Key = Air, Label = "Regulated air", Role = ChannelRole.RegulatedAir, Unit = "psi",
                RawUnit = "V", Instrument = "board", Input = "a0", Period = TimeSpan.FromMilliseconds(100),
                Calibration = LineCalibration.Through(0.5, 0, 4.5, 100), Setpoint = 50,
            },
            new ChannelDefinition
            {
                Id = "guide-vacuum", Key = Vacuum, Label = "Guide vacuum", Role = ChannelRole.GuideVacuum, Unit = "inH2O",
                RawUnit = "V", Instrument = "board", Input = "a1", Period = TimeSpan.FromMilliseconds(100),
                Calibration = new TableCalibration([0.5, 2.5, 4.5], [0, 12.4, 25]),
            },
            new ChannelDefinition
            {
                Id = "timing-error", Key = Timing, Label = "Timing error", Kind = ChannelKind.Frame, Role = ChannelRole.TimingError,
                Unit = "ns", RawUnit = "ns", Instrument = "board", Input = "frame", Period = TimeSpan.FromMilliseconds(500),
                Calibration = LineCalibration.Identity, Axis = FrameAxis.Even(16),
            },
        ],
    };
}
