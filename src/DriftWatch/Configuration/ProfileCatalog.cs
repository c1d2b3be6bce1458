using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Profiles;

namespace DriftWatch.Configuration;

/// <summary>
/// Finds and reads profiles by name, each once a load. A mistake inside a profile is said at its own file and line;
/// it is then as if the profile were not there, and nothing more is said about it.
/// </summary>
internal sealed class ProfileCatalog(IReadOnlyList<string> folders, MistakeList mistakes)
{
    public const string InstrumentFile = "profile.toml";
    public const string SensorFile = "sensor.toml";

    private readonly Dictionary<string, Found<InstrumentProfile>> _instruments = new(StringComparer.Ordinal);
    private readonly Dictionary<string, Found<SensorProfile>> _sensors = new(StringComparer.Ordinal);
    private readonly SortedDictionary<string, string> _texts = new(StringComparer.Ordinal);

    /// <summary>Name and text of each profile that was read, in the order of names, for the hash of the bench.</summary>
    public IEnumerable<KeyValuePair<string, string>> Texts => _texts;

    public IReadOnlyDictionary<string, InstrumentProfile> Instruments =>
        _instruments.Where(p => p.Value.Profile is not null).ToDictionary(p => p.Key, p => p.Value.Profile!, StringComparer.Ordinal);

    public Found<InstrumentProfile> Instrument(string name) =>
        Get(_instruments, name, InstrumentFile, (file, root) => InstrumentProfileReader.Read(file, root, name, mistakes));

    public Found<SensorProfile> Sensor(string name) =>
        Get(_sensors, name, SensorFile, (file, root) => SensorProfileReader.Read(file, root, name, mistakes));

    /// <summary>Every profile there is of one kind, for suggestions.</summary>
    public IReadOnlyList<string> Names(string fileName) =>
    [
        .. folders.Where(Directory.Exists)
            .SelectMany(Directory.EnumerateDirectories)
            .Where(d => File.Exists(Path.Combine(d, fileName)))
            .Select(d => Path.GetFileName(d)!)
            .Distinct(StringComparer.Ordinal)
            .Order(StringComparer.Ordinal),
    ];

    private Found<T> Get<T>(Dictionary<string, Found<T>> known, string name, string fileName, Func<string, TomlTable, T?> read)
        where T : class
    {
        if (known.TryGetValue(name, out Found<T> found))
        {
            return found;
        }

        found = default;
        string? path = folders.Select(f => Path.Combine(f, name, fileName)).FirstOrDefault(File.Exists);
        if (path is not null)
        {
            found = new Found<T>(true, null);
            if (SourceText.Read(path, mistakes) is { } text)
            {
                _texts[name + "/" + fileName] = text;
                int before = mistakes.Count;
                T? profile = TomlTreeReader.Read(path, text, mistakes) is { } root ? read(path, root) : null;
                found = new Found<T>(true, mistakes.Count == before ? profile : null);
            }
        }

        known.Add(name, found);
        return found;
    }

    /// <summary>Whether the file is there, and the profile if it is sound.</summary>
    public readonly record struct Found<T>(bool IsThere, T? Profile)
        where T : class;
}
