namespace DriftWatch.Tests.Support;

/// <summary>Where the sources of what is tested lie.</summary>
internal static class Checkout
{
    public static string Root { get; } = Find();

    private static string Find()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "DriftWatch.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        return folder ?? throw new DirectoryNotFoundException("No DriftWatch.sln above the tests.");
    }
}
