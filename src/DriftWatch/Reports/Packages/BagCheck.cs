using System.Globalization;
using System.Security.Cryptography;

namespace DriftWatch.Reports.Packages;

/// <summary>Something wrong with a package.</summary>
/// <param name="File">Which file of it.</param>
/// <param name="What">What is wrong.</param>
/// <param name="Remedy">What to do.</param>
internal sealed record BagFault(string File, string What, string Remedy)
{
    public override string ToString() => $"{File}: {What}; {Remedy}";
}

/// <summary>
/// Checks a bag by RFC 8493, complete and valid: whoever made it. What it can't check, it says.
/// </summary>
internal static class BagCheck
{
    private const string TakeAgain = "take it again from another copy of the package";

    private static readonly Dictionary<string, HashAlgorithmName> Algorithms = new(StringComparer.Ordinal)
    {
        ["sha256"] = HashAlgorithmName.SHA256,
        ["sha384"] = HashAlgorithmName.SHA384,
        ["sha512"] = HashAlgorithmName.SHA512,
    };

    /// <returns>Empty for a whole and sound bag.</returns>
    /// <exception cref="IOException">Nothing is there, or it can't be read.</exception>
    public static IReadOnlyList<BagFault> Of(string path, CancellationToken cancel = default)
    {
        using BagFiles files = BagFiles.At(path);
        var faults = new List<BagFault>();
        CheckDeclaration(files, faults);
        string[] manifests = [.. files.Paths.Where(p => IsManifest(p, "manifest-"))];
        string[] tagManifests = [.. files.Paths.Where(p => IsManifest(p, "tagmanifest-"))];
        if (manifests.Length == 0)
        {
            faults.Add(new BagFault("manifest-sha256.txt", "there is no payload manifest, so nothing proves what was packed", TakeAgain));
        }

        HashSet<string> payload = [.. files.Paths.Where(p => p.StartsWith("data/", StringComparison.Ordinal))];
        var listed = new List<(string Manifest, string Path, string Hash)>();
        foreach (string manifest in manifests)
        {
            List<(string Path, string Hash)> lines = Lines(files, manifest, faults);
            listed.AddRange(lines.Select(l => (manifest, l.Path, l.Hash)));
            foreach (string stranger in payload.Except(lines.Select(l => l.Path)).Order(StringComparer.Ordinal))
            {
                faults.Add(new BagFault(stranger, $"it is not listed in {manifest}", "it was added after packing: remove it, or take the package again"));
            }
        }

        foreach (string manifest in tagManifests)
        {
            listed.AddRange(Lines(files, manifest, faults).Select(l => (manifest, l.Path, l.Hash)));
        }

        CheckHashes(files, listed, faults, cancel);
        CheckOxum(files, payload, faults);
        if (files.Paths.Contains("fetch.txt"))
        {
            faults.Add(new BagFault("fetch.txt", "the package leaves files to be fetched from elsewhere, which DriftWatch does not do", "fetch them, then check again"));
        }

        return faults;
    }

    private static bool IsManifest(string path, string begin) =>
        path.StartsWith(begin, StringComparison.Ordinal) && path.EndsWith(".txt", StringComparison.Ordinal) && !path.Contains('/', StringComparison.Ordinal);

    private static void CheckDeclaration(BagFiles files, List<BagFault> faults)
    {
        string? text = files.Text("bagit.txt");
        if (text is null)
        {
            faults.Add(new BagFault("bagit.txt", "it is missing, so this is no bag", "name the folder or zip that 'driftwatch package' wrote, or take it again"));
            return;
        }

        string[] lines = text.ReplaceLineEndings("\n").TrimEnd('\n').Split('\n');
        if (lines.Length != 2 || !lines[0].StartsWith("BagIt-Version: ", StringComparison.Ordinal) || lines[1] != "Tag-File-Character-Encoding: UTF-8")
        {
            faults.Add(new BagFault("bagit.txt", "it does not hold the two lines of a bag's declaration", TakeAgain));
        }
    }

    private static List<(string Path, string Hash)> Lines(BagFiles files, string manifest, List<BagFault> faults)
    {
        var lines = new List<(string, string)>();
        int number = 0;
        foreach (string line in files.Text(manifest)!.ReplaceLineEndings("\n").Split('\n'))
        {
            number++;
            if (line.Length == 0)
            {
                continue;
            }

            int space = line.IndexOfAny([' ', '\t']);
            string path = space < 0 ? "" : Unescaped(line[space..].TrimStart(' ', '\t', '*'));
            if (space <= 0 || path.Length == 0)
            {
                faults.Add(new BagFault($"{manifest}({number})", "the line holds no checksum and path", TakeAgain));
            }
            else if (path.StartsWith('/') || path.StartsWith('~') || path.Split('/').Contains("..") || path.Contains(':', StringComparison.Ordinal))
            {
                faults.Add(new BagFault($"{manifest}({number})", $"the path {path} leads out of the package", "do not trust this package; take it again from whoever made it"));
            }
            else
            {
                lines.Add((path, line[..space].ToLowerInvariant()));
            }
        }

        return lines;
    }

    private static string Unescaped(string path) => path
        .Replace("%0A", "\n", StringComparison.OrdinalIgnoreCase).Replace("%0D", "\r", StringComparison.OrdinalIgnoreCase).Replace("%25", "%", StringComparison.Ordinal);

    /// <summary>Every file is read once, whatever the number of manifests.</summary>
    private static void CheckHashes(BagFiles files, List<(string Manifest, string Path, string Hash)> listed, List<BagFault> faults, CancellationToken cancel)
    {
        var there = files.Paths.ToHashSet(StringComparer.Ordinal);
        foreach (IGrouping<string, (string Manifest, string Path, string Hash)> file in listed.GroupBy(l => l.Path).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            cancel.ThrowIfCancellationRequested();
            if (!there.Contains(file.Key))
            {
                faults.Add(new BagFault(file.Key, $"it is missing, though {file.First().Manifest} lists it", TakeAgain));
                continue;
            }

            foreach (IGrouping<string, (string Manifest, string Path, string Hash)> algorithm in file.GroupBy(l => AlgorithmOf(l.Manifest)))
            {
                if (!Algorithms.TryGetValue(algorithm.Key, out HashAlgorithmName name))
                {
                    faults.Add(new BagFault(algorithm.First().Manifest, $"DriftWatch can't work out {algorithm.Key}", "check it with a tool that can; the manifests of other algorithms were checked"));
                    continue;
                }

                string? found = Hash(files, file.Key, name);
                if (algorithm.Any(l => l.Hash != found))
                {
                    faults.Add(new BagFault(
                        file.Key, found is null ? "it can't be read" : $"its {algorithm.Key} is not that of {algorithm.First().Manifest}: it was changed or damaged after packing", TakeAgain));
                }
            }
        }
    }

    private static string AlgorithmOf(string manifest) => manifest[(manifest.IndexOf('-', StringComparison.Ordinal) + 1)..^".txt".Length];

    private static string? Hash(BagFiles files, string path, HashAlgorithmName algorithm)
    {
        try
        {
            using Stream stream = files.Open(path);
            using IncrementalHash hash = IncrementalHash.CreateHash(algorithm);
            var buffer = new byte[81_920];
            int read;
            while ((read = stream.Read(buffer)) > 0)
            {
                hash.AppendData(buffer, 0, read);
            }

            return Convert.ToHexStringLower(hash.GetHashAndReset());
        }
        catch (Exception exception) when (exception is InvalidDataException or IOException)
        {
            return null;
        }
    }

    /// <summary>Octets and streams of the payload, which tell at once when much is missing.</summary>
    private static void CheckOxum(BagFiles files, HashSet<string> payload, List<BagFault> faults)
    {
        string? oxum = files.Text("bag-info.txt")?.ReplaceLineEndings("\n").Split('\n')
            .FirstOrDefault(l => l.StartsWith("Payload-Oxum:", StringComparison.OrdinalIgnoreCase))?["Payload-Oxum:".Length..].Trim();
        if (oxum is null)
        {
            return; // it need not be there
        }

        long bytes = 0;
        foreach (string path in payload)
        {
            bytes += Length(files, path);
        }

        string found = string.Create(CultureInfo.InvariantCulture, $"{bytes}.{payload.Count}");
        if (found != oxum)
        {
            faults.Add(new BagFault("bag-info.txt", $"it tells of a payload of {oxum} (bytes.files), but there is {found}", TakeAgain));
        }
    }

    private static long Length(BagFiles files, string path)
    {
        try
        {
            using Stream stream = files.Open(path);
            using var counter = new Dossiers.HashingStream(Stream.Null);
            stream.CopyTo(counter);
            return counter.Bytes;
        }
        catch (Exception exception) when (exception is InvalidDataException or IOException)
        {
            return 0;
        }
    }
}
