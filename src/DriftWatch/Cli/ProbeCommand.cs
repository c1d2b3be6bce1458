using System.CommandLine;
using System.Globalization;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch probe</c>: talks to every instrument of a bench and prints what each says.</summary>
internal static class ProbeCommand
{
    public static Command Create()
    {
        var bench = new Argument<FileInfo>("BENCH") { Description = "The bench file (TOML)." };
        var readings = new Option<int>("--readings")
        {
            Description = "Readings to take of each channel, 1 to 1000.",
            DefaultValueFactory = _ => 3,
        };
        readings.Validators.Add(result =>
        {
            if (result.GetValueOrDefault<int>() is < 1 or > 1000)
            {
                result.AddError("--readings takes a number from 1 to 1000.");
            }
        });
        Option<string[]> profiles = SourceArguments.Profiles();
        var command = new Command(
            "probe",
            "Talks to every instrument of a bench for a few readings and prints what each says: its identity, and of each "
            + "channel the raw reading and what the calibration makes of it. Keeps nothing. A watch that runs holds its "
            + "ports: stop it first.")
        {
            bench, readings, profiles,
        };
        command.SetAction((parse, cancel) => RunAsync(
            parse.GetRequiredValue(bench), parse.GetValue(readings), parse.GetValue(profiles), parse.InvocationConfiguration, cancel));
        return command.WithHelp(
            notSound: "an instrument is silent",
            new HelpExample("driftwatch probe annex.toml", "what every instrument of the bench says"));
    }

    private static async Task<int> RunAsync(
        FileInfo file, int readings, string[]? profiles, InvocationConfiguration streams, CancellationToken cancel)
    {
        BenchFileResult loaded = BenchFile.Load(file.ToString(), SourceArguments.FoldersOf(profiles));
        if (loaded.Bench is null)
        {
            foreach (FileMistake mistake in loaded.Mistakes)
            {
                await streams.Error.WriteLineAsync(mistake.ToString());
            }

            return ExitCode.BadInput;
        }

        IReadOnlyList<ProbedInstrument> probed = await ProbeRun.RunAsync(
            loaded.Bench.Definition, loaded.Bench.Profiles, readings, TimeProvider.System, NullLoggerFactory.Instance, cancel);
        foreach (ProbedInstrument instrument in probed)
        {
            ProbeReport.Write(streams.Output, instrument);
        }

        ProbedInstrument[] silent = [.. probed.Where(p => !p.Talks && p.Channels.Count > 0)];
        await streams.Output.WriteLineAsync(silent.Length == 0
            ? $"Every instrument talks ({probed.Count})."
            : $"Silent: {string.Join(", ", silent.Select(s => s.Instrument.Id))} ({silent.Length} of {probed.Count}).");
        return silent.Length == 0 ? ExitCode.Done : ExitCode.NotSound;
    }
}

/// <summary>A probed instrument in words.</summary>
internal static class ProbeReport
{
    public static void Write(TextWriter output, ProbedInstrument probed)
    {
        string state = probed.Talks ? "talks" : probed.Channels.Count == 0 ? "not used" : "SILENT";
        output.WriteLine($"{probed.Instrument.Id} on {Where(probed.Instrument.Connection)}: {state}: {probed.Words}");
        int width = probed.Channels.Select(c => c.Channel.Id.Length).DefaultIfEmpty(0).Max();
        foreach (ProbedChannel channel in probed.Channels)
        {
            string id = channel.Channel.Id.PadRight(width);
            if (channel.Channel.Kind == ChannelKind.Frame)
            {
                output.WriteLine($"  {id}  {FrameWords(channel)}");
                continue;
            }

            if (channel.Readings.Count == 0)
            {
                output.WriteLine($"  {id}  no reading");
            }

            foreach (Reading reading in channel.Readings)
            {
                output.WriteLine($"  {id}  {ReadingWords(channel.Channel, reading)}");
            }
        }

        output.WriteLine();
    }

    public static string ReadingWords(ChannelDefinition channel, Reading reading)
    {
        if (reading.IsFault)
        {
            return $"fault {reading.Fault.ToSlug()}: {FaultWords(reading.Fault)}";
        }

        double value = channel.Calibration.Convert(reading.Raw);
        string raw = reading.Raw.ToString("R", CultureInfo.InvariantCulture);
        string extremes = reading.HasExtremes ? $" (from {Number(reading.Minimum)} to {Number(reading.Maximum)})" : "";
        return $"raw {raw} {channel.RawUnit}{extremes} = {Number(value)} {channel.Unit}";
    }

    private static string FrameWords(ProbedChannel channel)
    {
        if (channel.LastFrame is not { } frame)
        {
            return channel.Readings.Count > 0 ? ReadingWords(channel.Channel, channel.Readings[^1]) : "no frame";
        }

        double least = double.MaxValue;
        double greatest = double.MinValue;
        foreach (double raw in frame.Values)
        {
            double value = channel.Channel.Calibration.Convert(raw);
            least = Math.Min(least, value);
            greatest = Math.Max(greatest, value);
        }

        return $"frame {frame.Sequence}: {frame.Count} points from {Number(least)} to {Number(greatest)} {channel.Channel.Unit}";
    }

    private static string Where(ConnectionDefinition connection) => connection.Kind switch
    {
        ConnectionKind.Serial => $"{connection.Port} at {connection.Baud} {connection.Framing}" + (connection.Address is int unit ? $", unit {unit}" : ""),
        ConnectionKind.Tcp => $"{connection.Host}:{connection.TcpPort}" + (connection.Address is int unit ? $", unit {unit}" : ""),
        ConnectionKind.I2c => $"I2C bus {connection.Bus}, address 0x{connection.Address:x2}",
        ConnectionKind.Spi => $"SPI bus {connection.Bus}, chip-select {connection.Address}",
        _ => "the practice rig",
    };

    private static string FaultWords(FaultCode fault) => fault switch
    {
        FaultCode.Missing => "nothing came in time; is the instrument sending?",
        FaultCode.NoAnswer => "the instrument did not answer in time",
        FaultCode.LineDown => "the line is down",
        FaultCode.BadChecksum => "the checksum did not match; check cable, shield and baud rate",
        FaultCode.Garbled => "what came does not follow the profile; check baud rate and profile",
        FaultCode.InstrumentError => "the instrument reports an error; check the profile against its manual",
        FaultCode.NotANumber => "the instrument has no number to give; is the sensor connected?",
        FaultCode.OverRange => "at or beyond the top of the input's range",
        FaultCode.UnderRange => "at or beyond the bottom of the input's range",
        FaultCode.OpenLoop => "current below the loop's failure level: wire broken, or transmitter without power",
        FaultCode.LoopHigh => "current above the loop's failure level: short, or the transmitter reports a fault",
        FaultCode.ImplausibleJump => "a step that no real quantity here can make",
        FaultCode.Stuck => "the same number for too long",
        FaultCode.SupplyLost => "the sensor's supply rail is missing or too low",
        _ => "unknown fault",
    };

    private static string Number(double value) => value.ToString("G6", CultureInfo.InvariantCulture);
}
