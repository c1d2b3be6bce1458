using System.IO.Compression;
using System.Text;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;

namespace DriftWatch.Tests.Recordings;

/// <summary>A folder for one test's files, and a small bench to read them with.</summary>
public sealed class RecordingFolder : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("driftwatch-recordings-");

    public string Folder => _folder.FullName;

    public static BenchDefinition Bench(params string[] ids) => new()
    {
        Id = "annex",
        Label = "Annex",
        SourceHash = new string('0', 64),
        Machine = new MachineDefinition { Label = "Quad 2" },
        Instruments = [],
        Channels =
        [
            .. ids.Select((id, index) => new ChannelDefinition
            {
                Id = id,
                Key = index + 1,
                Label = id,
                Unit = id == "timing" ? "ns" : "psi",
                RawUnit = id == "timing" ? "ns" : "V",
                Kind = id == "timing" ? ChannelKind.Frame : ChannelKind.Series,
                Axis = id == "timing" ? FrameAxis.Even(2) : null,
                Period = TimeSpan.FromMilliseconds(100),
                Calibration = new LineCalibration(25, -12.5),
                Faults = new FaultRules { Low = 0.2, High = 4.8 },
                Aliases = id == "air" ? ["regulated"] : [],
            }),
        ],
    };

    public string PathOf(string name) => Path.Combine(Folder, name);

    public string Write(string name, string text)
    {
        File.WriteAllText(PathOf(name), text, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false));
        return PathOf(name);
    }

    public string WriteGzip(string name, string text, int? cutTo = null)
    {
        using var packed = new MemoryStream();
        using (var gzip = new GZipStream(packed, CompressionLevel.Fastest, leaveOpen: true))
        {
            gzip.Write(Encoding.UTF8.GetBytes(text));
        }

        byte[] bytes = packed.ToArray();
        File.WriteAllBytes(PathOf(name), cutTo is { } length ? bytes[..length] : bytes);
        return PathOf(name);
    }

    /// <summary>A row as text: time, then each cell.</summary>
    public static List<string> Rows(CsvRecordingReader reader)
    {
        var rows = new List<string>();
        while (reader.ReadRow())
        {
            string text = Measurement.Time.UtcText.FromNanoseconds(reader.UtcNanoseconds)[11..^1];
            foreach (CsvCell cell in reader.Cells)
            {
                text += cell.Kind switch
                {
                    CsvCellKind.Empty => " -",
                    CsvCellKind.Value => " " + cell.Value.ToString("R"),
                    _ => " !" + cell.Fault,
                };
            }

            rows.Add(text);
        }

        return rows;
    }

    /// <summary>An input as text: number, milliseconds, kind, channel, reading.</summary>
    public static List<string> Inputs(RecordingInputs inputs, bool withTicks = true)
    {
        var lines = new List<string>();
        while (inputs.Next(out EngineInput input))
        {
            if (!withTicks && input.Kind == InputKind.Tick)
            {
                continue;
            }

            string what = input.Kind switch
            {
                InputKind.Sample or InputKind.Fault => $" {input.Channel} {input.Reading}",
                InputKind.Clock => $" {input.ClockEvent.Kind} {input.ClockEvent.StepNanoseconds / 1_000_000}",
                InputKind.Frame => $" {input.Channel} #{input.Frame.Sequence}",
                _ => "",
            };
            lines.Add($"{input.Number} {input.Time.Nanoseconds / 1_000_000} {input.Kind}{what}");
        }

        return lines;
    }

    public void Dispose() => _folder.Delete(recursive: true);
}
