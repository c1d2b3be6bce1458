using System.IO.Compression;

namespace DriftWatch.Reports.Packages;

/// <summary>The files of a bag, in a folder or in a zip with one folder at its top.</summary>
internal abstract class BagFiles : IDisposable
{
    /// <summary>Paths within the bag, with slashes, in order.</summary>
    public abstract IReadOnlyList<string> Paths { get; }

    /// <exception cref="IOException">It is not there, or can't be read.</exception>
    /// <exception cref="InvalidDataException">A zip whose entry is damaged.</exception>
    public abstract Stream Open(string path);

    public string? Text(string path)
    {
        if (!Paths.Contains(path, StringComparer.Ordinal))
        {
            return null;
        }

        using var reader = new StreamReader(Open(path), new System.Text.UTF8Encoding(false), detectEncodingFromByteOrderMarks: false);
        return reader.ReadToEnd();
    }

    public virtual void Dispose() => GC.SuppressFinalize(this);

    /// <exception cref="FileNotFoundException">Nothing is there.</exception>
    /// <exception cref="InvalidDataException">It is no zip.</exception>
    public static BagFiles At(string path) =>
        Directory.Exists(path) ? new InFolder(path)
        : File.Exists(path) ? new InZip(path)
        : throw new FileNotFoundException("There is no such package.", path);

    private sealed class InFolder(string folder) : BagFiles
    {
        public override IReadOnlyList<string> Paths { get; } =
        [
            .. Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories)
                .Select(f => Path.GetRelativePath(folder, f).Replace('\\', '/')).Order(StringComparer.Ordinal),
        ];

        public override Stream Open(string path) => File.OpenRead(Path.Combine(folder, path));
    }

    private sealed class InZip : BagFiles
    {
        private readonly ZipArchive _zip;
        private readonly string _top;

        public InZip(string file)
        {
            _zip = ZipFile.OpenRead(file);
            _top = _zip.Entries.Select(e => e.FullName).FirstOrDefault(n => n.EndsWith("/bagit.txt", StringComparison.Ordinal))?[..^"bagit.txt".Length] ?? "";
            Paths =
            [
                .. _zip.Entries.Select(e => e.FullName).Where(n => n.StartsWith(_top, StringComparison.Ordinal) && !n.EndsWith('/'))
                    .Select(n => n[_top.Length..]).Order(StringComparer.Ordinal),
            ];
        }

        public override IReadOnlyList<string> Paths { get; }

        public override Stream Open(string path) => _zip.GetEntry(_top + path)?.Open() ?? throw new FileNotFoundException("It is not in the package.", path);

        public override void Dispose()
        {
            _zip.Dispose();
            base.Dispose();
        }
    }
}
