using System.Globalization;
using System.IO.Compression;
using System.Text;
using DriftWatch.Reports.Dossiers;

namespace DriftWatch.Reports.Packages;

/// <summary>A file of a bag.</summary>
/// <param name="Path">Within the bag, with slashes.</param>
/// <param name="Bytes">Its length.</param>
/// <param name="Sha256">Lower-case hex.</param>
/// <param name="Sha512">Lower-case hex.</param>
internal sealed record BagFile(string Path, long Bytes, string Sha256, string Sha512);

/// <summary>
/// Writes a bag by BagIt 1.0 (RFC 8493): payload under <c>data/</c>, manifests of two algorithms, tag manifests. It grows in a
/// folder beside its place and gets its name only when it is whole.
/// </summary>
internal sealed class BagWriter : IDisposable
{
    private const int LineWidth = 79; // RFC 8493, 2.2.2: longer lines should be folded

    private readonly string _target;
    private readonly string _filling;
    private readonly List<BagFile> _payload = [];
    private readonly List<BagFile> _tags = [];

    /// <param name="target">A folder that does not exist yet, or NAME.zip.</param>
    /// <exception cref="IOException">It exists.</exception>
    public BagWriter(string target)
    {
        _target = target.TrimEnd('/', '\\');
        if (File.Exists(_target) || Directory.Exists(_target))
        {
            throw new IOException($"{_target} exists already: a package is never written over; give another name");
        }

        _filling = _target + ".part";
        if (Directory.Exists(_filling))
        {
            Directory.Delete(_filling, recursive: true);
        }

        File.Delete(_target + ".writing");

        Directory.CreateDirectory(_filling);
    }

    public IReadOnlyList<BagFile> Payload => _payload;

    /// <summary>Writes a payload file and hashes it on the way.</summary>
    /// <param name="path">Beneath <c>data/</c>.</param>
    /// <param name="write">May leave the stream open or close it.</param>
    public BagFile Add(string path, Action<Stream> write) => Write("data/" + path, write, _payload);

    /// <summary>Where somebody else may write payload files, which <see cref="Take"/> then takes in.</summary>
    public string PathFor(string path)
    {
        string full = Path.Combine(_filling, "data", path);
        Directory.CreateDirectory(Path.GetDirectoryName(full)!);
        return full;
    }

    /// <summary>Takes in a payload file that lies in its place.</summary>
    public BagFile Take(string path)
    {
        using var hash = new HashingStream(Stream.Null);
        using (FileStream file = File.OpenRead(PathFor(path)))
        {
            file.CopyTo(hash);
        }

        var taken = new BagFile("data/" + path, hash.Bytes, hash.Sha256, hash.Sha512);
        _payload.Add(taken);
        return taken;
    }

    /// <summary>Writes the tag files and gives the bag its name.</summary>
    /// <param name="info">For <c>bag-info.txt</c>, in order; Payload-Oxum is added.</param>
    /// <param name="made">Of a zip's entries: so that the same content gives the same file.</param>
    public void Complete(IEnumerable<(string Name, string Value)> info, DateTimeOffset made)
    {
        Tag("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
        string oxum = string.Create(CultureInfo.InvariantCulture, $"{_payload.Sum(f => f.Bytes)}.{_payload.Count}");
        Tag("bag-info.txt", string.Concat(info.Append(("Payload-Oxum", oxum)).Select(i => Folded($"{i.Item1}: {i.Item2}"))));
        Tag("manifest-sha256.txt", Manifest(_payload, f => f.Sha256));
        Tag("manifest-sha512.txt", Manifest(_payload, f => f.Sha512));
        List<BagFile> tags = [.. _tags];
        Tag("tagmanifest-sha256.txt", Manifest(tags, f => f.Sha256));
        Tag("tagmanifest-sha512.txt", Manifest(tags, f => f.Sha512));
        if (_target.EndsWith(".zip", StringComparison.OrdinalIgnoreCase))
        {
            Zip(made);
        }
        else
        {
            Directory.Move(_filling, _target);
        }
    }

    public void Dispose()
    {
        if (Directory.Exists(_filling))
        {
            Directory.Delete(_filling, recursive: true);
        }
    }

    /// <summary>A path in a manifest: only what would break its line is written otherwise (RFC 8493, 2.1.3).</summary>
    public static string Escaped(string path) =>
        path.Replace("%", "%25", StringComparison.Ordinal).Replace("\r", "%0D", StringComparison.Ordinal).Replace("\n", "%0A", StringComparison.Ordinal);

    private void Tag(string name, string text) => Write(name, stream => stream.Write(Encoding.UTF8.GetBytes(text)), _tags);

    private BagFile Write(string path, Action<Stream> write, List<BagFile> list)
    {
        string full = Path.Combine(_filling, path);
        Directory.CreateDirectory(Path.GetDirectoryName(full)!);
        using var stream = new HashingStream(File.Create(full));
        write(stream);
        var file = new BagFile(path, stream.Bytes, stream.Sha256, stream.Sha512);
        list.Add(file);
        return file;
    }

    private static string Manifest(IEnumerable<BagFile> files, Func<BagFile, string> hash) =>
        string.Concat(files.OrderBy(f => f.Path, StringComparer.Ordinal).Select(f => $"{hash(f)}  {Escaped(f.Path)}\n"));

    private static string Folded(string line)
    {
        var folded = new StringBuilder();
        int used = 0;
        foreach (string word in line.ReplaceLineEndings(" ").Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            if (used > 0 && used + 1 + word.Length > LineWidth)
            {
                folded.Append("\n ").Append(word);
                used = word.Length + 1;
            }
            else
            {
                folded.Append(used > 0 ? " " : "").Append(word);
                used += word.Length + (used > 0 ? 1 : 0);
            }
        }

        return folded.Append('\n').ToString();
    }

    /// <summary>One folder at the top, as the standard asks of a serialised bag (RFC 8493, 4).</summary>
    private void Zip(DateTimeOffset made)
    {
        string part = _target + ".writing";
        File.Delete(part); // left by a power cut
        string top = Path.GetFileNameWithoutExtension(_target);
        using (ZipArchive zip = ZipFile.Open(part, ZipArchiveMode.Create))
        {
            foreach (BagFile file in _tags.Concat(_payload))
            {
                // What is compressed already is only stored.
                bool isPacked = file.Path.EndsWith(".gz", StringComparison.Ordinal) || file.Path.EndsWith(".pdf", StringComparison.Ordinal);
                ZipArchiveEntry entry = zip.CreateEntry($"{top}/{file.Path}", isPacked ? CompressionLevel.NoCompression : CompressionLevel.Optimal);
                entry.LastWriteTime = made.ToUniversalTime();
                using Stream to = entry.Open();
                using FileStream from = File.OpenRead(Path.Combine(_filling, file.Path));
                from.CopyTo(to);
            }
        }

        File.Move(part, _target);
    }
}
