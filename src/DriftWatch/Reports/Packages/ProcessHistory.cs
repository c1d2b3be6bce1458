using System.Globalization;
using System.Text;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Dossiers;

namespace DriftWatch.Reports.Packages;

/// <summary>
/// The chain of devices as a table, with the fields that the trade's coding history has (those of reVTMD: order, role,
/// manufacturer, model, serial number, signal, settings, notes). What nobody has told in the bench file stays empty, but for the model: there its label or profile stands.
/// </summary>
internal static class ProcessHistory
{
    public static void Write(Stream stream, Dossier dossier)
    {
        var text = new StringBuilder("order,role,manufacturer,model,serialNumber,signal,settings,notes\r\n");
        int order = 0;
        MachineDefinition machine = dossier.Bench.Machine;
        Row(
            "tape reproduction", machine.Plate?.Maker ?? "", machine.Plate?.Model ?? machine.Label, machine.Plate?.Serial ?? "", PackageWords.StandardOf(dossier), "",
            $"{(machine.Plate?.Model is null ? "" : machine.Label + ": ")}from {UtcText.FromNanoseconds(dossier.Run.Stretch.FromUtc)} to {UtcText.FromNanoseconds(dossier.Run.Stretch.ToUtc)}{(PackageWords.OtherStandardOf(dossier) is { } other ? $"; by the bench file a machine of {other}" : "")}");
        foreach (DeviceDefinition device in dossier.Bench.Devices ?? [])
        {
            Row(device.Role, device.Plate?.Maker ?? "", device.Plate?.Model ?? "", device.Plate?.Serial ?? "", device.Signal ?? "", device.Settings ?? "", device.Note ?? "");
        }

        foreach (InstrumentDefinition instrument in dossier.Bench.Instruments)
        {
            List<ChannelDefinition> its = [.. dossier.Bench.Channels.Where(c => c.Instrument == instrument.Id)];
            Row(
                "measurement of the machine", instrument.Plate?.Maker ?? "", instrument.Plate?.Model ?? instrument.Profile, instrument.Plate?.Serial ?? "", string.Join(' ', its.Select(c => c.RawUnit).Distinct(StringComparer.Ordinal)),
                $"bench file {dossier.Bench.SourceHash}", $"{instrument.Label}: {string.Join(", ", its.Select(c => c.Id))}");
        }

        Row("judgement and record", "", "DriftWatch", "", "", $"version {dossier.Software}", $"record SHA-256 {dossier.Record.Sha256}");
        stream.Write(Encoding.UTF8.GetBytes(text.ToString()));

        void Row(params string[] cells) =>
            text.Append(CultureInfo.InvariantCulture, $"{++order},").AppendJoin(',', cells.Select(Quoted)).Append("\r\n");
    }

    private static string Quoted(string cell) =>
        cell.AsSpan().IndexOfAny(",\"\r\n") < 0 ? cell : $"\"{cell.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";
}
