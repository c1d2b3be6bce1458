using System.Diagnostics;

namespace DriftWatch.SystemTests.Storage;

/// <summary>A file system of some megabytes in memory, to be filled to its last byte. Needs the right to mount.</summary>
internal sealed class SmallDisk : IDisposable
{
    private SmallDisk(string folder) => Folder = folder;

    public string Folder { get; }

    private string Filler => Path.Combine(Folder, "filler");

    public static SmallDisk Mount(string folder, int megabytes)
    {
        Directory.CreateDirectory(folder);
        Run("mount", "-t", "tmpfs", "-o", $"size={megabytes}m", "none", folder);
        return new SmallDisk(folder);
    }

    /// <summary>Takes what room there is, but for so many bytes.</summary>
    public void Fill(long left = 0)
    {
        byte[] block = new byte[4096];
        try
        {
            using var file = new FileStream(Filler, FileMode.Append, FileAccess.Write, FileShare.None, bufferSize: 0);
            while (left == 0 || new DriveInfo(Folder).AvailableFreeSpace > left)
            {
                file.Write(block);
            }
        }
        catch (IOException)
        {
            // Full: that is what was wanted.
        }
    }

    /// <summary>Gives it back.</summary>
    public void Free() => File.Delete(Filler);

    public void Dispose() => Run("umount", "-l", Folder);

    private static void Run(string program, params string[] arguments)
    {
        using Process process = Process.Start(program, arguments);
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, $"{program} {string.Join(' ', arguments)} failed: mounting a small disk needs root.");
    }
}
