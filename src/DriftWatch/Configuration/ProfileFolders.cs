namespace DriftWatch.Configuration;

/// <summary>Where profiles are looked for: each profile is a folder of its name in one of these.</summary>
public static class ProfileFolders
{
    /// <summary>The profiles that come with the program, beside its binary. The bench file's own folder is always looked in first.</summary>
    public static IReadOnlyList<string> Default { get; } = [Path.Combine(AppContext.BaseDirectory, "device-profiles")];
}
