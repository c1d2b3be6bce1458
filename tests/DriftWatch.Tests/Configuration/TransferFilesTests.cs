using DriftWatch.Analysis.RfHeads;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Transfers;
using Xunit;

namespace DriftWatch.Tests.Configuration;

/// <summary>The files by which a site takes a tape through the bench: those that come with the program, and mistakes in one's own.</summary>
public sealed class TransferFilesTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-procedures-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public void The_files_that_come_with_the_program_are_sound_and_every_number_has_a_source()
    {
        TransferProcedures procedures = TransferReader.Default;
        Assert.All(procedures.Checks.Items, c => Assert.NotEmpty(c.Source));
        Assert.All(procedures.LineUp.Steps, s => Assert.NotEmpty(s.Source));
        Assert.All(procedures.Rules.Rules, r => Assert.NotEmpty(r.Source));
        Assert.Equal(Enum.GetValues<ProofKind>().Where(k => k != ProofKind.None).Order(), procedures.Checks.Items.Select(i => i.Proof).Where(p => p != ProofKind.None).Order());
        Assert.Equal(Enum.GetValues<VerdictCondition>(), procedures.Rules.Rules.Select(r => r.When).Distinct().Order());
        Assert.All(procedures.LineUp.Steps.Where(s => s.Standard is not null), s => Assert.NotNull(s.Least));
        Assert.Equal(64, procedures.Checks.Hash.Length);
    }

    /// <summary>Each by the hazard that its work has: weight, solvents, compressed air, what turns, mains, and tape that can be lost.</summary>
    [Theory]
    [InlineData("tape-inspected", "is not threaded")]
    [InlineData("reels-handled", "hands and sleeves")]
    [InlineData("path-cleaned", "wheel at rest")]
    [InlineData("filter-drained", "relieve the pressure")]
    [InlineData("air-before-wheel", "covers on")]
    [InlineData("leak-down", "eye protection")]
    [InlineData("electrics-safe", "isolate before a cover comes off")]
    [InlineData("guide-height", "Covers on while the wheel turns")]
    [InlineData("guide-penetration", "Covers on while the wheel turns")]
    public void What_can_hurt_carries_its_caution(string key, string says)
    {
        TransferProcedures procedures = TransferReader.Default;
        Dictionary<string, string?> cautions = procedures.Checks.Items.Select(c => (c.Key, c.Caution)).Concat(procedures.LineUp.Steps.Select(s => (s.Key, s.Caution))).ToDictionary();
        Assert.Contains(says, cautions[key], StringComparison.Ordinal);
    }

    /// <summary>
    /// A picture of right levels, read as the words of a step say it is read, stands in the middle of the step's bounds, and they are as wide as the
    /// advisory of <c>driftwatch measure levels</c>, which is the step's aid.
    /// </summary>
    [Fact]
    public void The_levels_of_the_line_up_are_those_of_the_measurement_that_helps_with_them()
    {
        LineUpStepDefinition[] steps = [.. TransferReader.Default.LineUp.Steps.Where(s => s.Aid == "levels")];
        Assert.Equal(7, steps.Length);
        foreach (LineUpStepDefinition step in steps)
        {
            VideoStandard standard = step.Standard == "625/50" ? VideoStandard.Lines625 : VideoStandard.Lines525WithSetUp;
            double unit = step.Unit == "IRE" ? VideoStandard.MillivoltsPerIre : 1;
            (OutputQuantity quantity, double right) = step.Text switch
            {
                var t when t.Contains("black to white", StringComparison.Ordinal) => (OutputQuantity.White, standard.WhiteMillivolts - standard.BlackMillivolts),
                var t when t.Contains("white over blanking", StringComparison.Ordinal) => (OutputQuantity.White, standard.WhiteMillivolts),
                var t when t.StartsWith("Black level over blanking", StringComparison.Ordinal) => (OutputQuantity.Black, standard.BlackMillivolts),
                var t when t.StartsWith("Saturation", StringComparison.Ordinal) && t.Contains("percent of nominal", StringComparison.Ordinal) => (OutputQuantity.Saturation, 100),
                var t when t.StartsWith("Chroma phase", StringComparison.Ordinal) && t.Contains("off nominal", StringComparison.Ordinal) => (OutputQuantity.ChromaPhase, 0.0),
                var t when t.StartsWith("Audio zero", StringComparison.Ordinal) && t.Contains("off the reference level", StringComparison.Ordinal) => (OutputQuantity.AudioZero, 0),
                _ => throw new InvalidOperationException($"{step.Key}: nothing here knows what is read by '{step.Text}'"),
            };
            Assert.Equal(right, (step.Least!.Value + step.Greatest!.Value) / 2 * unit, 1e-9);
            Assert.Equal(OutputLevels.Tolerance(quantity, standard).Advisory, (step.Greatest.Value - step.Least.Value) / 2 * unit, 1e-9);
        }
    }

    [Fact]
    public void A_sites_own_list_is_taken_and_changes_the_benchs_hash()
    {
        string before = Load("").Bench!.Definition.SourceHash;
        Write("ours.toml", "[[check]]\nkey = \"cat-out\"\ntext = \"The cat is out.\"\nsource = \"common practice, no source\"\n");
        LoadedBench loaded = Load("[transfers]\ncheck-list = \"ours.toml\"\n").Bench!;
        Assert.Equal("cat-out", Assert.Single(loaded.Definition.Procedures!.Checks.Items).Key);
        string named = loaded.Definition.SourceHash;
        Assert.NotEqual(before, named);
        Write("ours.toml", "[[check]]\nkey = \"cat-in\"\ntext = \"The cat is in.\"\nsource = \"common practice, no source\"\n");
        Assert.NotEqual(named, Load("[transfers]\ncheck-list = \"ours.toml\"\n").Bench!.Definition.SourceHash);
    }

    [Theory]
    [InlineData("check-list", "[[check]]\nkey = \"a\"\ntext = \"A\"\nproof = \"dew-point\"\nsource = \"x\"\n", "ours.toml(4,9): the proof dew-point needs a number to hold against; write limit = -20")]
    [InlineData("check-list", "[[check]]\nkey = \"a\"\ntext = \"A\"\nsource = \"x\"\n[[check]]\nkey = \"a\"\ntext = \"B\"\nsource = \"x\"\n", "ours.toml(6,7): 'a' stands already in line 2; give each its own key")]
    [InlineData("check-list", "[[check]]\nkey = \"a\"\ntext = \"A\"\n", "lacks 'source'")]
    [InlineData("line-up", "[[step]]\nkey = \"a\"\ntext = \"A\"\nleast = 2\ngreatest = 1\nunit = \"dB\"\nsource = \"x\"\n", "nothing lies between 2 and 1")]
    [InlineData("line-up", "[[step]]\nkey = \"a\"\ntext = \"A\"\nleast = 2\nsource = \"x\"\n", "the bound has no unit")]
    [InlineData("verdict-rules", "[run]\nbegins-after = \"20 s\"\nends-after = \"30 s\"\nsource = \"x\"\n[review]\nhandle = \"10 s\"\njoin = \"30 s\"\nsource = \"x\"\n[[rule]]\nkey = \"a\"\nwhen = \"findings\"\nkinds = [\"vacum-loss\"]\nverdict = \"run-again\"\ntext = \"A\"\nsource = \"x\"\n", "there is no kind of finding 'vacum-loss'; write \"vacuum-loss\"")]
    [InlineData("verdict-rules", "[run]\nbegins-after = \"20 s\"\nends-after = \"30 s\"\nsource = \"x\"\n[review]\nhandle = \"10 s\"\njoin = \"30 s\"\nsource = \"x\"\n[[rule]]\nkey = \"a\"\nwhen = \"marks\"\nseverity = \"alarm\"\nverdict = \"run-again\"\ntext = \"A\"\nsource = \"x\"\n", "'severity' means nothing to when = \"marks\"")]
    public void A_mistake_is_said_with_its_place_in_the_file_it_stands_in(string key, string text, string mistake)
    {
        Write("ours.toml", text);
        BenchFileResult result = Load($"[transfers]\n{key} = \"ours.toml\"\n");
        Assert.Null(result.Bench);
        Assert.Contains(result.Mistakes, m => m.ToString()!.Contains(mistake, StringComparison.Ordinal));
    }

    [Fact]
    public void A_file_that_is_not_there_is_a_mistake() =>
        Assert.Contains("can't be read", Load("[transfers]\nline-up = \"none.toml\"\n").Mistakes.Single().ToString(), StringComparison.Ordinal);

    [Theory]
    [InlineData("../access.toml")]
    [InlineData("/etc/passwd")]
    [InlineData("secrets.txt")]
    public void Only_files_beside_the_bench_file_are_read(string name) =>
        Assert.Contains("is no file beside the bench file", Load($"[transfers]\nline-up = \"{name}\"\n").Mistakes.Single().ToString(), StringComparison.Ordinal);

    private void Write(string name, string text) => File.WriteAllText(Path.Combine(_folder, name), text);

    private BenchFileResult Load(string more)
    {
        string practice = Path.Combine(ProfileFolders.Default[0], "practice-rig", "bench.toml");
        string path = Path.Combine(_folder, "bench.toml");
        File.WriteAllText(path, File.ReadAllText(practice) + "\n" + more);
        return BenchFile.Load(path, ProfileFolders.Default);
    }
}
