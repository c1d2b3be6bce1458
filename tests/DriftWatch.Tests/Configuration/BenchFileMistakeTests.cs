using DriftWatch.Configuration;
using Xunit;

namespace DriftWatch.Tests.Configuration;

/// <summary>Broken bench files, and to the letter what is said of each.</summary>
public sealed class BenchFileMistakeTests
{
    /// <summary>Each case of Cases.txt is a bench file between '=== name' and '---', then the messages that must come, in order.</summary>
    public static TheoryData<string> Cases => [.. All().Select(c => c.Name)];

    [Theory]
    [MemberData(nameof(Cases))]
    public void A_broken_bench_file_is_told_what_is_wrong_and_what_to_write(string name)
    {
        (_, string text, string[] due) = All().Single(c => c.Name == name);
        string[] said = [.. BenchText.Load(text).Mistakes.Select(m => m.ToString())];
        Assert.Equal(string.Join('\n', due), string.Join('\n', said));
        Assert.NotEmpty(said);
    }

    [Fact]
    public void All_mistakes_are_said_at_once_in_reading_order()
    {
        BenchFileResult result = BenchText.Load(
            BenchText.Head.Replace("id = \"b\"", "id = \"B 1\"", StringComparison.Ordinal)
            + BenchText.Volts.Replace("\"V\"", "\"volt\"", StringComparison.Ordinal)
            + "[retention]\nraw-months = 0\n");
        Assert.Equal([2, 9, 13], result.Mistakes.Select(m => m.Line));
        Assert.Null(result.Bench);
    }

    [Fact]
    public void A_mistake_in_a_profile_is_said_at_the_profile()
    {
        BenchFileResult result = BenchText.Load(
            BenchText.Head.Replace("adc-16bit-i2c", "my-board", StringComparison.Ordinal) + BenchText.Volts,
            null,
            ("my-board/profile.toml", "[instrument]\nname = \"my-board\"\ntitle = \"x\"\nprotocol = \"board\"\n[board]\nbinding = \"ads1115\"\n[[input]]\nname = \"a0\"\nunit = \"V\"\npin = \"a9\"\n"));
        FileMistake mistake = Assert.Single(result.Mistakes);
        Assert.Equal(
            $"{Path.Combine("my-board", "profile.toml")}(10,7): the binding ads1115 has no pin \"a9\"; write one of a0, a1, a2, a3, a0-a1, a0-a3, a1-a3, a2-a3",
            mistake.ToString());
    }

    [Fact]
    public void A_script_file_is_found_beside_the_bench_file_and_a_broken_one_is_told_with_its_line()
    {
        const string Bench =
            """
            [bench]
            id = "b"
            [[instrument]]
            id = "rig"
            profile = "practice-rig"
            practice = { script = "nights/mine.rig" }
            [[channel]]
            id = "v"
            unit = "V"
            instrument = "rig"
            input = "sensor-rail"
            """;
        string script = Path.Combine("nights", "mine.rig");
        BenchFileResult sound = BenchText.Load(Bench, null, (script, "length 1:00\nat 0:10 air on\n"));
        Assert.Empty(sound.Mistakes);
        Assert.EndsWith(script, sound.Bench!.Definition.Instruments[0].Connection.Script, StringComparison.Ordinal);

        FileMistake mistake = Assert.Single(BenchText.Load(Bench, null, (script, "length 1:00\nat 0:10 air up\n")).Mistakes);
        Assert.Equal((6, 23), (mistake.Line, mistake.Column));
        Assert.Contains("mine.rig(2)", mistake.What, StringComparison.Ordinal);
        Assert.Contains("'air up' is nothing the operator can do", mistake.What, StringComparison.Ordinal);
    }

    [Fact]
    public void A_file_that_is_not_there_or_not_text_is_a_mistake_and_no_exception()
    {
        Assert.Equal(1, BenchFile.Load("no-such-folder/bench.toml", []).Mistakes.Single().Line);
        string path = Path.GetTempFileName();
        File.WriteAllBytes(path, [.. "id = 1\nx = "u8, 0xC3, 0x28]);
        FileMistake mistake = BenchFile.Load(path, []).Mistakes.Single();
        File.Delete(path);
        Assert.Equal((2, 5), (mistake.Line, mistake.Column));
        Assert.Equal("this byte is not UTF-8", mistake.What);
    }

    /// <summary>Source of hostile text: seeded mutation of the practice bench. Seed printed.</summary>
    [Fact]
    public void No_garbled_bench_file_throws()
    {
        const int Seed = 20_260_117;
        var random = new Random(Seed);
        string text = File.ReadAllText(Path.Combine(ProfileFolders.Default[0], "practice-rig", "bench.toml"));
        for (int i = 0; i < 300; i++)
        {
            char[] garbled = text.ToCharArray();
            for (int k = random.Next(1, 6); k > 0; k--)
            {
                garbled[random.Next(garbled.Length)] = "\"[]{}=.,\n#x0-"[random.Next(13)];
            }

            try
            {
                BenchText.Load(new string(garbled));
            }
            catch (Exception error)
            {
                Assert.Fail($"seed {Seed}, round {i}: {error}");
            }
        }
    }

    private static IEnumerable<(string Name, string Text, string[] Due)> All()
    {
        string page = File.ReadAllText(Path.Combine(AppContext.BaseDirectory, "Configuration", "Cases.txt")).ReplaceLineEndings("\n");
        foreach (string part in page.Split("\n=== ", StringSplitOptions.RemoveEmptyEntries).Skip(1))
        {
            int nameEnd = part.IndexOf('\n', StringComparison.Ordinal);
            int textEnd = part.IndexOf("\n---\n", StringComparison.Ordinal);
            string text = part[(nameEnd + 1)..(textEnd + 1)]
                .Replace("{head}\n", BenchText.Head.ReplaceLineEndings("\n"), StringComparison.Ordinal)
                .Replace("{volts}\n", BenchText.Volts.ReplaceLineEndings("\n"), StringComparison.Ordinal);
            yield return (part[..nameEnd], text, part[(textEnd + 5)..].Split('\n', StringSplitOptions.RemoveEmptyEntries));
        }
    }
}
