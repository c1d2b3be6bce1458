using DriftWatch.Acquisition.PracticeRig;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Benchmarks.Bed;

/// <summary>
/// The practice bench for measuring: twenty series at 10 Hz each. Its channel of frames gives way to the second sensor of
/// the supply air, and the slow channels are read as often as the rest.
/// </summary>
internal static class PracticeBench
{
    private static readonly LoadedBench Loaded = Load(BenchFilePath);

    public static BenchDefinition TwentyAtTenHertz { get; } = MakeTwenty(Loaded.Definition);

    public static InstrumentProfile Profile => Loaded.Profiles["practice-rig"];

    /// <summary>The checkout, whose bench file and program the service is measured with.</summary>
    public static string Root
    {
        get
        {
            string? folder = AppContext.BaseDirectory;
            while (folder is not null && !File.Exists(Path.Combine(folder, "DriftWatch.sln")))
            {
                folder = Path.GetDirectoryName(folder);
            }

            return folder ?? throw new InvalidOperationException("The benchmarks run outside of the checkout.");
        }
    }

    public static string BenchFilePath => Path.Combine(Root, "device-profiles", "practice-rig", "bench.toml");

    /// <summary>
    /// The inputs of a night of this length, numbered from 1: one sound transfer after the other, or with
    /// <paramref name="troubled"/> the tour, where something fails every minute.
    /// </summary>
    public static IEnumerable<EngineInput> Night(TimeSpan length, DateTimeOffset start, bool troubled = false)
    {
        RigScript script = troubled
            ? RigScripts.Load("tour")
            : RigScriptText.Parse("transfers", "transfers", RigScripts.TextOf("sound-transfer") + "\nloop\n");
        return new RigRecorder(TwentyAtTenHertz, script, 1, UtcText.ToNanoseconds(start)).Record(length);
    }

    /// <summary>The shipped bench with further inputs of the rig, each in the role of its own name where there is one, with that role's limits.</summary>
    public static BenchDefinition WithInputs(params RigInput[] inputs)
    {
        var text = new System.Text.StringBuilder(File.ReadAllText(BenchFilePath));
        foreach (RigInput input in inputs.Where(input => !Loaded.Definition.Channels.Any(c => c.Input == RigInputs.NameOf(input))))
        {
            string name = RigInputs.NameOf(input);
            string role = Slugs.TryParse(name, out ChannelRole _) ? name : Slugs.Of(ChannelRole.Other);
            text.Append(System.Globalization.CultureInfo.InvariantCulture, $"""

                [[channel]]
                id = "{name}"
                label = "{name}"
                role = "{role}"
                unit = "{RigInputs.NativeUnit(input)}"
                instrument = "rig"
                input = "{name}"
                period = "100 ms"

                """);
        }

        using var folder = new TempFolder();
        string path = folder.At("bench.toml");
        File.WriteAllText(path, text.ToString());
        return Load(path).Definition;
    }

    private static LoadedBench Load(string path)
    {
        BenchFileResult result = BenchFile.Load(path, ProfileFolders.Default);
        return result.Bench ?? throw new InvalidOperationException(string.Join('\n', result.Mistakes));
    }

    private static BenchDefinition MakeTwenty(BenchDefinition bench)
    {
        ChannelDefinition supply = bench.Channels.First(c => c.Role == ChannelRole.SupplyAir);
        ChannelDefinition loop = supply with
        {
            Id = "supply-loop", Label = "Supply air, loop", Role = ChannelRole.Other, Unit = "mA", RawUnit = "mA", Input = "supply-loop",
            Calibration = Measurement.Calibrations.LineCalibration.Identity, Faults = new FaultRules(), Limits = [],
        };
        return bench with
        {
            Channels =
            [
                .. bench.Channels.Select(c => (c.Kind == ChannelKind.Frame ? loop with { Key = c.Key } : c) with { Period = TimeSpan.FromMilliseconds(100) }),
            ],
        };
    }
}
