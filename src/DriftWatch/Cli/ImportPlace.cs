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
            Directory.Delete(Filling, recursive: true); // left by an import that was killed
        }
    }

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
