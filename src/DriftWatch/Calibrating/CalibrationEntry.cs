using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Calibrating;

/// <summary>Who enters a calibration, and from when it is to hold.</summary>
/// <param name="By">The name that signs it.</param>
/// <param name="Identity">declared, token or proxy.</param>
/// <param name="ApplyFromUtc">Nanoseconds since 1970 from which past readings are converted with it too; null: from its entry on.</param>
/// <param name="Id">Given where the person acted, so that what is sent again after a lost answer is entered once; null: it is given here.</param>
internal sealed record CalibrationSigner(string By, string Identity, long? ApplyFromUtc, Guid? Id = null);

/// <summary>What a sheet comes to on a bench, and its way into a store that no service writes to.</summary>
internal static class CalibrationEntry
{
    /// <summary>The document of a sheet, had it been entered now.</summary>
    /// <exception cref="SheetException">The sheet can't be used.</exception>
    public static CalibrationDocument Make(
        BenchDefinition bench, CalibrationTable calibrations, string channel, CalibrationSheet sheet, CalibrationSigner signer, long nowUtc, out int key)
    {
        ChannelDefinition definition = bench.Channels.FirstOrDefault(c => c.Id == channel || c.Aliases.Contains(channel))
            ?? throw new SheetException("channel", $"The bench knows no channel '{channel}'.", $"{NearestName.Hint(channel, bench.Channels.Select(c => c.Id))}It has {string.Join(", ", bench.Channels.Select(c => c.Id))}.");
        if (signer.ApplyFromUtc >= nowUtc)
        {
            throw new SheetException("applyFrom", "A calibration can be applied back, not forward.", "Give an instant before now, or leave it out: it then holds from its entry on.");
        }

        key = definition.Key;
        return CalibrationMaker.Make(
            new CalibrationContext
            {
                Bench = bench.Id,
                Channel = definition,
                InForce = calibrations[key],
                By = signer.By,
                Identity = signer.Identity,
                EnteredUtc = nowUtc,
                ApplyFromUtc = signer.ApplyFromUtc,
                Version = calibrations.NextVersion(key),
            },
            sheet,
            signer.Id ?? Guid.CreateVersion7(UtcText.ToDateTimeOffset(nowUtc)));
    }

    /// <summary>What was entered under the signer's id already, so that it is answered and not entered a second time; null where it is new.</summary>
    /// <exception cref="SheetException">The id belongs to another calibration.</exception>
    public static CalibrationDocument? SentAgain(BenchDefinition bench, CalibrationTable calibrations, string channel, CalibrationSigner signer)
    {
        if (signer.Id is not { } id || calibrations.Find(id) is not { } known)
        {
            return null;
        }

        bool isSame = known.Calibration.By == signer.By && bench.Channels.Any(c => c.Key == known.Key && (c.Id == channel || c.Aliases.Contains(channel)));
        return (isSame ? CalibrationDocument.Of(known.Calibration) : null)
            ?? throw new SheetException("id", $"The id {id} belongs to another calibration.", "Give each calibration an id of its own, a UUID of version 7.");
    }

    /// <summary>
    /// Enters it at the end of what is stored and judges that. Takes the writer's lock: where a service writes, the calibration goes through
    /// the service.
    /// </summary>
    /// <exception cref="SheetException">The sheet can't be used; nothing was entered.</exception>
    /// <exception cref="StoreException">The store can't be opened or written.</exception>
    public static (CalibrationDocument Document, long Number) Enter(
        string folder, string channel, CalibrationSheet sheet, CalibrationSigner signer, TimeProvider time)
    {
        using BenchStore store = BenchStore.Open(folder, new BenchStoreOptions { TimeProvider = time });
        BenchDefinition bench = store.CurrentBench ?? throw new SheetException("store", $"{folder} holds no bench yet.", "Name the folder of a bench that was watched or imported.");
        using BenchReader reader = store.OpenReader();
        var calibrations = CalibrationTable.Of(reader);
        if (SentAgain(bench, calibrations, channel, signer) is { } known)
        {
            return (known, store.LastNumber);
        }

        CalibrationDocument document = Make(
            bench, calibrations, channel, sheet, signer, UtcText.ToNanoseconds(time.GetUtcNow()), out int key);
        Calibration calibration = document.ToCalibration();
        EngineInput input = EngineInput.OfCalibration(new EngineTime(store.LastTime.Nanoseconds + 1), key, calibration) with { Number = store.LastNumber + 1 };
        store.Append([input]);
        EngineStart.CatchUp(store, NullLogger.Instance);
        return (document, input.Number);
    }
}
