using DriftWatch.Configuration;

namespace DriftWatch.Tests.Configuration;

/// <summary>Bench files written to a folder of their own and loaded; mistakes come back without the folder.</summary>
internal static class BenchText
{
    /// <summary>Lines 1 to 6; a channel that is appended begins at line 7.</summary>
    public const string Head =
        """
        [bench]
        id = "b"
        [[instrument]]
        id = "board"
        profile = "adc-16bit-i2c"
        i2c = { bus = 1, address = 0x48 }

        """;

    public const string Volts =
        """
        [[channel]]
        id = "volts"
        unit = "V"
        instrument = "board"
        input = "a0"

        """;

    public static BenchFileResult Load(string text, IReadOnlyDictionary<string, int>? keys = null, params (string Path, string Text)[] others)
    {
        string folder = Directory.CreateTempSubdirectory("driftwatch-bench-").FullName;
        try
        {
            string path = Path.Combine(folder, "b.toml");
            File.WriteAllText(path, text);
            foreach ((string other, string content) in others)
            {
                Directory.CreateDirectory(Path.GetDirectoryName(Path.Combine(folder, other))!);
                File.WriteAllText(Path.Combine(folder, other), content);
            }

            BenchFileResult result = BenchFile.Load(path, ProfileFolders.Default, keys);
            return result with { Mistakes = [.. result.Mistakes.Select(m => m with { File = Path.GetRelativePath(folder, m.File) })] };
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }
}
