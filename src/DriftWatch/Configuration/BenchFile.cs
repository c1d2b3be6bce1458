using System.Security.Cryptography;
using System.Text;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Notices;

namespace DriftWatch.Configuration;

/// <summary>A bench as it will be judged, and the profiles of its instruments by name.</summary>
public sealed record LoadedBench(BenchDefinition Definition, IReadOnlyDictionary<string, InstrumentProfile> Profiles)
{
    /// <summary>Who is told of alarms, and how. No part of the bench as judged: another route changes no judgement.</summary>
    internal NoticeSettings Notices { get; init; } = NoticeSettings.None;

    /// <summary>Where its readings are mirrored to; no part of the bench as judged either.</summary>
    internal MirrorPlan Mirrors { get; init; } = MirrorPlan.None;
}

/// <summary>A bench, or the mistakes that stand in its way; never both.</summary>
public sealed record BenchFileResult(LoadedBench? Bench, IReadOnlyList<FileMistake> Mistakes);

/// <summary>
/// Reads a bench file (TOML, UTF-8) with the profiles it names. All mistakes are found in one go; a bench comes out
/// only if there is none.
/// </summary>
public static class BenchFile
{
    /// <param name="path">The bench file. Mistakes name it as written here.</param>
    /// <param name="profileFolders">Folders that hold profiles, looked in after the bench file's own folder.</param>
    /// <param name="keys">
    /// The channel keys that the bench folder has given so far, by channel id; null for none. A known id keeps its
    /// key, a renamed one (its former id among the aliases) too, a new one gets the next that was never given.
    /// </param>
    /// <remarks>Never throws for what the file says, nor for a file that is missing or unreadable.</remarks>
    public static BenchFileResult Load(
        string path,
        IReadOnlyList<string> profileFolders,
        IReadOnlyDictionary<string, int>? keys = null)
    {
        ArgumentNullException.ThrowIfNull(path);
        ArgumentNullException.ThrowIfNull(profileFolders);
        var mistakes = new MistakeList();
        return Load(path, SourceText.Read(path, mistakes), profileFolders, keys, mistakes);
    }

    /// <summary>The same for a text that lies in no file: another bench that is only tried.</summary>
    /// <param name="path">How mistakes name it; profiles are looked for in its folder first.</param>
    /// <param name="text">What the file would say.</param>
    /// <param name="profileFolders">As for <see cref="Load(string, IReadOnlyList{string}, IReadOnlyDictionary{string, int}?)"/>.</param>
    public static BenchFileResult LoadText(string path, string text, IReadOnlyList<string> profileFolders)
    {
        ArgumentNullException.ThrowIfNull(path);
        ArgumentNullException.ThrowIfNull(text);
        ArgumentNullException.ThrowIfNull(profileFolders);
        return Load(path, text, profileFolders, keys: null, new MistakeList());
    }

    private static BenchFileResult Load(
        string path, string? text, IReadOnlyList<string> profileFolders, IReadOnlyDictionary<string, int>? keys, MistakeList mistakes)
    {
        string ownFolder = Path.GetDirectoryName(path) is { Length: > 0 } folder ? folder : ".";
        var catalog = new ProfileCatalog([ownFolder, .. profileFolders], mistakes);

        BenchDefinition? bench = null;
        NoticeSettings notices = NoticeSettings.None;
        MirrorPlan mirrors = MirrorPlan.None;
        if (text is not null && TomlTreeReader.Read(path, text, mistakes) is { } root)
        {
            var reader = new BenchReader(path, catalog, mistakes, keys);
            bench = reader.Read(root);
            notices = reader.Notices;
            mirrors = reader.Mirrors;
            bench = bench is null ? null : bench with { SourceText = text, SourceHash = HashOf(text, catalog, bench.Procedures) };
        }

        return bench is not null && mistakes.Count == 0
            ? new BenchFileResult(new LoadedBench(bench, catalog.Instruments) { Notices = notices, Mirrors = mirrors }, [])
            : new BenchFileResult(null, mistakes.InReadingOrder(path));
    }

    /// <summary>Null when the file can be opened; else the reason in words.</summary>
    internal static string? WhyUnreadable(string path)
    {
        try
        {
            using FileStream stream = File.OpenRead(path);
            return null;
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            return exception.Message;
        }
    }

    /// <summary>SHA-256 over the bench file's text and, in the order of their names, each profile's name and text, and the hashes of what the site does with tapes; a zero byte ends each.</summary>
    private static string HashOf(string text, ProfileCatalog catalog, TransferProcedures? procedures)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        Append(text);
        foreach ((string name, string profile) in catalog.Texts)
        {
            Append(name);
            Append(profile);
        }

        foreach (string hashed in procedures is null ? [] : (string[])[procedures.Checks.Hash, procedures.LineUp.Hash, procedures.Rules.Hash])
        {
            Append(hashed);
        }

        return Convert.ToHexStringLower(hash.GetHashAndReset());

        void Append(string part)
        {
            hash.AppendData(Encoding.UTF8.GetBytes(part));
            hash.AppendData([0]);
        }
    }
}
