namespace DriftWatch.Cli;

/// <summary>Where an import is filled, and the folder that it becomes once it is whole.</summary>
internal sealed class ImportPlace : IDisposable
{
    private readonly string _folder;

    /// <exception cref="CommandException">The folder holds readings already.</exception>
    public ImportPlace(string folder)
    {
        _folder = Path.TrimEndingDirectorySeparator(Path.GetFullPath(folder));
        if (Directory.Exists(_folder) && Directory.EnumerateFiles(_folder, "*.db").Any())
        {
            throw new CommandException(
                ExitCode.BadInput, $"{folder}: there is a store here already; import into a new folder, so that the two are never mixed up");
        }

        Filling = _folder + ".importing";
        if (Directory.Exists(Filling))
        {
            if (Directory.EnumerateFileSystemEntries(Filling).FirstOrDefault(entry => !IsOfAStore(entry)) is { } foreign)
            {
                throw new CommandException(
                    ExitCode.BadInput, $"{Filling}: the import is filled here, but {Path.GetFileName(foreign)} is no file of a store; move this folder away");
            }

            Directory.Delete(Filling, recursive: true); // left by an import that was killed
        }
    }

    /// <summary>A folder that happens to bear the name is not ours to delete.</summary>
    private static bool IsOfAStore(string entry) =>
        File.Exists(entry) && Path.GetFileName(entry) is var name
            && (name is "ballast.bin" or "writer.lock" || name.EndsWith(".db", StringComparison.Ordinal)
                || name.EndsWith(".db-wal", StringComparison.Ordinal) || name.EndsWith(".db-shm", StringComparison.Ordinal));

    public string Filling { get; }

    /// <summary>Gives the folder its name; call when the store in it is closed.</summary>
    public void Take()
    {
        if (!Directory.Exists(_folder))
        {
            Directory.Move(Filling, _folder);
            return;
        }

        foreach (string file in Directory.GetFiles(Filling))
        {
            File.Move(file, Path.Combine(_folder, Path.GetFileName(file)));
        }
    }

    public void Dispose()
    {
        if (Directory.Exists(Filling))
        {
            Directory.Delete(Filling, recursive: true);
        }
    }
}
