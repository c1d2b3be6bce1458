namespace DriftWatch.Benchmarks.Bed;

/// <summary>A folder that is gone with its benchmark.</summary>
internal sealed class TempFolder : IDisposable
{
    public string Path { get; } = Directory.CreateTempSubdirectory("driftwatch-bench-").FullName;

    public string At(string name) => System.IO.Path.Combine(Path, name);

    /// <summary>Bytes of all files below a folder.</summary>
    public static long SizeOf(string folder) =>
        Directory.Exists(folder)
            ? new DirectoryInfo(folder).EnumerateFiles("*", SearchOption.AllDirectories).Sum(file => file.Length)
            : 0;

    public void Dispose() => Directory.Delete(Path, recursive: true);
}
