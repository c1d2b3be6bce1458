using System.Text.Json;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Storage.Queries;

namespace DriftWatch.Running;

/// <summary>
/// The calibrations of each channel key, for what screens show: the one in force, and earlier versions for what was
/// measured under them. Of several the greatest version is in force. Immutable: each change makes a new table.
/// </summary>
internal sealed class CalibrationTable
{
    private readonly Dictionary<int, Calibration> _inForce;
    private readonly Dictionary<int, Calibration> _ofFile;
    private readonly Dictionary<(int Key, int Version), (Calibration Calibration, string? Unit, string? RawUnit)> _known;
    private readonly Dictionary<int, ChannelDefinition> _channels;
    private readonly (int Key, int Version, long From)[] _appliedBack;

    private CalibrationTable(
        Dictionary<int, Calibration> inForce,
        Dictionary<int, Calibration> ofFile,
        Dictionary<(int, int), (Calibration, string?, string?)> known,
        Dictionary<int, ChannelDefinition> channels)
    {
        _inForce = inForce;
        _ofFile = ofFile;
        _known = known;
        _channels = channels;
        _appliedBack =
        [
            .. known.Where(k => k.Value.Item1.IsAppliedBack).Select(k => (k.Key.Item1, k.Key.Item2, k.Value.Item1.ValidFromUtcNanoseconds!.Value)),
        ];
    }

    public static CalibrationTable Empty { get; } = new([], [], [], []);

    public Calibration this[int key] => _inForce.GetValueOrDefault(key, LineCalibration.Identity);

    /// <summary>Every calibration that a store knows of, by its bench definitions and by what was entered.</summary>
    public static CalibrationTable Of(BenchReader reader)
    {
        CalibrationTable table = Empty;
        foreach (StoredBench stored in reader.DifferentBenches())
        {
            table = table.WithBench(stored.Bench);
        }

        foreach (StoredCalibration stored in reader.Calibrations())
        {
            table = table.With(stored.Channel, stored.Calibration);
        }

        return table;
    }

    /// <summary>
    /// The version a reading was taken under, to the unit that the channel has now; the one in force where that version
    /// is not known any more.
    /// </summary>
    public Calibration Of(int key, int version) =>
        !_known.TryGetValue((key, version), out (Calibration Calibration, string? Unit, string? RawUnit) known) ? this[key]
        : known.Unit is null || known.RawUnit is null || !_channels.TryGetValue(key, out ChannelDefinition? now) ? known.Calibration
        : UnitChange.Shown(known.Calibration, known.Unit, known.RawUnit, now with { Calibration = this[key] });

    /// <summary>
    /// The same for a reading of a certain instant: one that was entered later and applied back to then comes before the version it was taken
    /// under. What is applied back to only a part of a column holds for it where the column begins.
    /// </summary>
    public Calibration Of(int key, int version, long utcNanoseconds)
    {
        int applied = version;
        foreach ((int Key, int Version, long From) back in _appliedBack)
        {
            if (back.Key == key && back.Version > applied && back.From <= utcNanoseconds)
            {
                applied = back.Version;
            }
        }

        return Of(key, applied);
    }

    /// <summary>The table after an input: a bench brings the calibrations of its file, a calibration replaces its channel's.</summary>
    public CalibrationTable After(in EngineInput input) => input.Kind switch
    {
        InputKind.Bench => WithBench(input.Bench),
        InputKind.Calibration => With(input.Channel, input.Calibration),
        _ => this,
    };

    public CalibrationTable With(int key, Calibration calibration)
    {
        bool older = _inForce.TryGetValue(key, out Calibration? now) && now.Version > calibration.Version;
        return new CalibrationTable(
            older ? _inForce : new Dictionary<int, Calibration>(_inForce) { [key] = calibration },
            _ofFile,
            new Dictionary<(int, int), (Calibration, string?, string?)>(_known)
            {
                [(key, calibration.Version)] = (calibration, _channels.GetValueOrDefault(key)?.Unit, _channels.GetValueOrDefault(key)?.RawUnit),
            },
            _channels);
    }

    public CalibrationTable WithBench(BenchDefinition bench)
    {
        var channels = new Dictionary<int, ChannelDefinition>(_channels);
        foreach (ChannelDefinition channel in bench.Channels)
        {
            channels[channel.Key] = channel;
        }

        var table = new CalibrationTable(_inForce, _ofFile, _known, channels);
        var ofFile = new Dictionary<int, Calibration>(_ofFile);
        foreach (ChannelDefinition channel in bench.Channels)
        {
            table = table.With(channel.Key, channel.Calibration);
            ofFile[channel.Key] = channel.Calibration;
        }

        return new CalibrationTable(table._inForce, ofFile, table._known, channels);
    }

    /// <summary>
    /// Gives the calibrations of a bench file their versions: the one the channel had while the file says the same of it,
    /// the next one when it was edited. So what was measured before an edit stays under the calibration of its day.
    /// </summary>
    public BenchDefinition Number(BenchDefinition bench) => bench with
    {
        Channels = [.. bench.Channels.Select(c => c with { Calibration = c.Calibration with { Version = VersionFor(c) } })],
    };

    /// <summary>What was entered under an id, with its channel's key; null where nothing was.</summary>
    public (int Key, Calibration Calibration)? Find(Guid id)
    {
        foreach (KeyValuePair<(int Key, int Version), (Calibration Calibration, string? Unit, string? RawUnit)> known in _known)
        {
            if (known.Value.Calibration.Id == id)
            {
                return (known.Key.Key, known.Value.Calibration);
            }
        }

        return null;
    }

    /// <summary>The version of what is entered next for a channel.</summary>
    public int NextVersion(int key) => _known.Keys.Where(k => k.Key == key).Select(k => k.Version).DefaultIfEmpty(0).Max() + 1;

    private int VersionFor(ChannelDefinition channel) =>
        !_ofFile.TryGetValue(channel.Key, out Calibration? before) ? channel.Calibration.Version
        : NumbersOf(before) == NumbersOf(channel.Calibration) ? before.Version
        : NextVersion(channel.Key);

    /// <summary>Records compare lists by reference, so the JSON decides; words and instants change no value.</summary>
    private static string NumbersOf(Calibration calibration) => JsonSerializer.Serialize(
        calibration with
        {
            Version = 1, Note = null, Due = null, EnteredUtcNanoseconds = null, ValidFromUtcNanoseconds = null, Id = null, By = null, IdentifiedBy = null, Document = null,
        });
}
