namespace DriftWatch.Configuration;

/// <summary>What holds secrets may be read and written by its owner alone.</summary>
internal static class OwnerOnly
{
    public const UnixFileMode Mode = UnixFileMode.UserRead | UnixFileMode.UserWrite;

    private const UnixFileMode Others =
        UnixFileMode.GroupRead | UnixFileMode.GroupWrite | UnixFileMode.OtherRead | UnixFileMode.OtherWrite;

    /// <summary>Null while it is kept so; Windows has no such modes and leaves it to the folder's rights.</summary>
    /// <exception cref="IOException">The file is not there.</exception>
    /// <exception cref="UnauthorizedAccessException">Its folder may not be looked into.</exception>
    public static (string What, string Remedy)? WhyNot(string path) =>
        !OperatingSystem.IsWindows() && (File.GetUnixFileMode(path) & Others) != UnixFileMode.None
            ? ($"{path} may be read or written by others than its owner", $"chmod 600 {path}")
            : null;
}
