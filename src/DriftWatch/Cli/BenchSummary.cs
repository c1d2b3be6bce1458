using System.Globalization;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Cli;

/// <summary>A sound bench in words: what is read from where, how it is converted, and what it is held against.</summary>
internal static class BenchSummary
{
    public static void Write(LoadedBench bench, TextWriter output)
    {
        BenchDefinition definition = bench.Definition;
        output.WriteLine($"{definition.Label} ({definition.Id}): {definition.Machine.Label}, {definition.Machine.Standard}; {definition.Channels.Count} channels; instruments: {definition.Instruments.Count}.");
        output.WriteLine($"Hash {definition.SourceHash}");
        output.WriteLine();
        TextTable.Write(
            output,
            ["instrument", "profile", "reached by"],
            definition.Instruments.Select(i => (string[])[i.Id, i.Profile, Connection(i.Connection)]));
        output.WriteLine();
        TextTable.Write(
            output,
            ["channel", "role", "unit", "input", "every", "conversion from raw"],
            definition.Channels.Select(c => (string[])
            [
                c.Id,
                Slugs.Of(c.Role) + (c.Head is { } head ? " " + head : ""),
                c.Unit,
                c.Ratio is { } ratio ? $"{ratio.Of} / {ratio.Over}" : $"{c.Instrument}:{c.Input}",
                DurationText.Write(c.Period),
                Conversion(c),
            ]));
        output.WriteLine();
        TextTable.Write(
            output,
            ["channel", "limit", "after", "deadband", "judged in", "source of the limit", "source of delay and deadband"],
            definition.Channels.SelectMany(c => c.Limits.Select(l => (string[])
            [
                c.Id,
                Limit(l, c.Unit),
                DurationText.Write(l.OnDelay),
                Number(l.Deadband) + (l.Reference == LimitReference.BaselineFraction ? " x baseline" : " " + c.Unit),
                l.JudgedIn.Count == 0 ? "all states" : string.Join(", ", l.JudgedIn.Select(s => Slugs.Of(s))),
                l.Source,
                DefaultDelays.Of(Slugs.Of(c.Role), l)?.Source ?? DefaultDelays.BenchFile,
            ])));
        string[] without = [.. definition.Channels.Where(c => c.Limits.Count == 0).Select(c => c.Id)];
        if (without.Length > 0)
        {
            output.WriteLine();
            output.WriteLine("Held to no limit of their own: " + string.Join(", ", without) + ".");
        }

        if (bench.Notices.Routes.Count > 0)
        {
            output.WriteLine();
            TextTable.Write(output, ["notices by", "way", "from priority", "after", "quiet"], bench.Notices.Routes.Select(r => (string[])
            [
                r.Id,
                Slugs.Of(r.Kind),
                Slugs.Of(r.LeastPriority),
                DurationText.Write(r.After),
                r.QuietFrom is { } from && r.QuietTo is { } to
                    ? string.Create(CultureInfo.InvariantCulture, $"{from:HH:mm} to {to:HH:mm} {TimeProvider.System.LocalTimeZone.Id}, but for the top priority")
                    : "never",
            ]));
        }
    }

    private static string Connection(ConnectionDefinition c) => c.Kind switch
    {
        ConnectionKind.Serial => $"{c.Port} at {c.Baud} {c.Framing}{(c.Address is { } unit ? $", Modbus address {unit}" : "")}",
        ConnectionKind.Tcp => $"TCP {c.Host}:{c.TcpPort}",
        ConnectionKind.I2c => $"I2C bus {c.Bus}, address 0x{c.Address:x2}",
        ConnectionKind.Spi => $"SPI bus {c.Bus}, chip-select {c.Address}",
        _ => $"inside the program, seed {c.Seed}{(c.Script is null ? "" : $", script {c.Script}")}",
    };

    private static string Conversion(ChannelDefinition channel)
    {
        if (channel.Kind == ChannelKind.Frame)
        {
            return $"frame of {channel.Axis!.Count} points, {channel.RawUnit}";
        }

        return channel.Calibration switch
        {
            LineCalibration { Gain: 1, Offset: 0 } => "as it is",
            LineCalibration line => $"{Number(line.Gain)} {channel.Unit} per {channel.RawUnit}{(line.Offset < 0 ? " - " : " + ")}{Number(Math.Abs(line.Offset))}",
            PolynomialCalibration polynomial => $"polynomial of order {polynomial.Coefficients.Count - 1}",
            TableCalibration table => $"table of {table.Raw.Count} points",
            _ => "",
        };
    }

    private static string Limit(LimitDefinition limit, string unit)
    {
        string side = limit.Side == LimitSide.Low ? "below" : "above";
        string value = limit.Reference switch
        {
            LimitReference.Baseline => $"baseline {(limit.Value < 0 ? "- " : "+ ")}{Number(Math.Abs(limit.Value))} {unit}",
            LimitReference.BaselineFraction => $"{Number(limit.Value)} x baseline",
            _ => $"{Number(limit.Value)} {unit}",
        };
        return $"{Slugs.Of(limit.Severity)} {side} {value}";
    }

    private static string Number(double value) => value.ToString("0.######", CultureInfo.InvariantCulture);
}
