using DriftWatch.Acquisition.Boards;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Modbus;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Acquisition.Scpi;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Acquisition.Boards;
using Xunit;

namespace DriftWatch.Tests.Profiles;

/// <summary>The transcript of each profile, replayed through the decoder that reads the real thing.</summary>
public sealed class TranscriptTests
{
    [Theory]
    [InlineData("pressure-loop-150psi")]
    [InlineData("pressure-ratiometric-100psi")]
    [InlineData("pressure-ratiometric-150psi")]
    [InlineData("rf-log-detector-25mv")]
    [InlineData("vacuum-differential-25inh2o")]
    public void A_sensor_turns_its_signal_into_the_values_of_its_transcript(string name)
    {
        SensorProfile sensor = new ProfileCatalog(ProfileFolders.Default, new MistakeList()).Sensor(name).Profile!;
        double raw = double.NaN;
        int held = 0;
        foreach (TranscriptEntry entry in Transcript.Read(name))
        {
            if (entry.Kind == '<')
            {
                raw = Transcript.Number(entry.Words[0]);
                continue;
            }

            Reading reading = new ReadingRules(sensor.Faults, TimeSpan.FromSeconds(1)).Apply(new EngineTime(0), Reading.Of(raw));
            Hold(entry, entry.Words[0], reading.IsFault ? reading : Reading.Of(Math.Round(sensor.Nominal.Convert(reading.Raw), 9)));
            held++;
        }

        Assert.True(held > 4);
    }

    [Fact]
    public void The_line_streamer_is_read_as_its_transcript_says()
    {
        InstrumentProfile profile = BoardBench.Profile("line-streamer");
        var parser = new LineParser(profile.Lines!, profile.Inputs);
        var framer = new LineFramer(parser.MaximumLength);
        LineKind? kind = null;
        int held = 0;
        foreach (TranscriptEntry entry in Transcript.Read("line-streamer"))
        {
            if (entry.Kind == '<')
            {
                kind = null;
                ReadOnlySpan<byte> bytes = entry.Bytes;
                while (framer.TryTake(ref bytes, out ReadOnlySpan<byte> line))
                {
                    kind = parser.Parse(line);
                }

                continue;
            }

            Assert.True(kind is not null, $"line {entry.Line}: nothing was read");
            HoldLine(entry, kind.Value, parser, profile);
            held++;
        }

        Assert.True(held > 30);
    }

    [Theory]
    [InlineData("multimeter-scpi-serial")]
    [InlineData("multimeter-scpi-tcp")]
    public void A_multimeter_is_asked_and_read_as_its_transcript_says(string name)
    {
        InstrumentProfile profile = BoardBench.Profile(name);
        IReadOnlyList<TranscriptEntry> entries = Transcript.Read(name);
        var link = new TranscriptLink([.. entries.Where(e => e.Kind != '=')]);
        using var line = new PolledByteLine(link, TimeProvider.System);
        var meter = new ScpiInstrument(line, profile.Scpi!, profile.Inputs, TimeSpan.FromMilliseconds(100), TimeProvider.System);
        Assert.Contains("DMM", meter.Greet(), StringComparison.Ordinal);
        Poll(entries, profile, link, meter);
    }

    [Fact]
    public void The_pressure_transmitter_is_asked_and_read_as_its_transcript_says()
    {
        InstrumentProfile profile = BoardBench.Profile("pressure-transmitter-modbus");
        IReadOnlyList<TranscriptEntry> entries = Transcript.Read(profile.Name);
        var link = new TranscriptLink([.. entries.Where(e => e.Kind != '=')]);
        using var line = new PolledByteLine(link, TimeProvider.System);
        var master = new ModbusMaster(line, SerialFraming.Parse("8E1"), 19200, TimeSpan.FromMilliseconds(100), TimeProvider.System);
        Poll(entries, profile, link, new ModbusInstrument(master, 17, profile.Modbus!, profile.Inputs));
    }

    /// <summary>With DRIFTWATCH_REWRITE=1 the transcript is first written anew from the simulated chip.</summary>
    [Theory]
    [InlineData("adc-16bit-i2c")]
    [InlineData("adc-12bit-spi")]
    [InlineData("climate-board-i2c")]
    public void A_board_is_told_and_read_as_its_transcript_says(string name)
    {
        BoardTranscripts.RewriteIfAsked(name);
        InstrumentProfile profile = BoardBench.Profile(name);
        IReadOnlyList<TranscriptEntry> entries = Transcript.Read(name);
        var devices = new TranscriptDevices([.. entries.Where(e => e.Kind != '=')]);
        using (BoardInstrument board = BoardInstrument.Make(BoardBench.Definition(name), profile, devices, TimeProvider.System))
        {
            board.Greet();
            Poll(entries, profile, null, board);
        }

        Assert.True(devices.IsThrough);
    }

    /// <summary>Each run of '=' lines is one scan of the inputs it names.</summary>
    private static void Poll(IReadOnlyList<TranscriptEntry> entries, InstrumentProfile profile, TranscriptLink? link, IPolledInstrument instrument)
    {
        int held = 0;
        for (int i = 0; i < entries.Count; i++)
        {
            if (entries[i].Kind != '=')
            {
                continue;
            }

            TranscriptEntry[] scan = [.. entries.Skip(i).TakeWhile(e => e.Kind == '=')];
            var results = new PolledReading[scan.Length];
            instrument.Scan([.. scan.Select(e => IndexOf(profile, e.Words[0]))], results);
            for (int k = 0; k < scan.Length; k++)
            {
                Hold(scan[k], scan[k].Words[1], results[k].Reading);
                held++;
            }

            i += scan.Length - 1;
        }

        Assert.True(held > 2);
        Assert.True(link is null || link.IsThrough, $"line {link?.Next?.Line} was never reached");
    }

    private static void HoldLine(TranscriptEntry entry, LineKind kind, LineParser parser, InstrumentProfile profile)
    {
        if (entry.Words[0] == "!reject")
        {
            Assert.Equal(LineKind.Rejected, kind);
            return;
        }

        ProfileInput input = profile.Inputs[IndexOf(profile, entry.Words[0])];
        if (entry.Words[1] == "frame")
        {
            Assert.Equal(LineKind.Frame, kind);
            Frame frame = parser.Frame!;
            Assert.Equal(input.Points, frame.Count);
            Assert.Equal(entry.Words[2], frame.Sequence.ToString());
            Assert.Equal(Transcript.Number(entry.Words[3]), frame.TachAngleDegrees);
            Assert.Equal(Transcript.Number(entry.Words[4]), frame.Values[0]);
            Assert.Equal(Transcript.Number(entry.Words[5]), frame.Values[^1]);
            return;
        }

        Assert.True(kind == LineKind.Samples, $"line {entry.Line}: {parser.Reject}");
        Hold(entry, entry.Words[1], ReadingRules.FromNumber(parser.Fields[input.Field!.Value - 1]));
        if (entry.Words.Length > 2)
        {
            Assert.Equal(Transcript.Number(entry.Words[2]), parser.Fields[input.MinimumField!.Value - 1]);
            Assert.Equal(Transcript.Number(entry.Words[3]), parser.Fields[input.MaximumField!.Value - 1]);
        }
    }

    private static void Hold(TranscriptEntry entry, string due, Reading reading)
    {
        bool same = due[0] == '!' ? reading.ToString() == due : !reading.IsFault && reading.Raw.Equals(Transcript.Number(due));
        Assert.True(same, $"line {entry.Line}: due {due}, read {reading}");
    }

    private static int IndexOf(InstrumentProfile profile, string input)
    {
        int index = Array.FindIndex([.. profile.Inputs], i => i.Name == input);
        Assert.True(index >= 0, $"the profile has no input {input}");
        return index;
    }
}
