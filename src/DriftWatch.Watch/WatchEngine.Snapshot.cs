using System.Buffers;
using System.Buffers.Binary;
using System.Security.Cryptography;
using System.Text.Json;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Judges;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;

namespace DriftWatch.Watch;

/// <summary>
/// A snapshot is <c>DWSN</c>, a version, the state, and the first 16 bytes of the SHA-256 over all before. It belongs
/// to one version of the judges: any change of what they remember raises <see cref="SnapshotVersion"/>, and an older or
/// newer one is refused, upon which the caller starts warm from the journal. Nothing is lost by that but time.
/// </summary>
public sealed partial class WatchEngine
{
    private const int SnapshotVersion = 20;
    private const int HeaderLength = 8;
    private const int DigestLength = 16;

    private static ReadOnlySpan<byte> SnapshotMagic => "DWSN"u8;

    /// <summary>All that the engine knows: bench, calibrations, anchors, judges and open findings.</summary>
    public byte[] Snapshot()
    {
        var buffer = new ArrayBufferWriter<byte>(64 << 10);
        Span<byte> header = buffer.GetSpan(HeaderLength);
        SnapshotMagic.CopyTo(header);
        BinaryPrimitives.WriteInt32LittleEndian(header[4..], SnapshotVersion);
        buffer.Advance(HeaderLength);
        Sync(StateArchive.ForWriting(buffer));
        byte[] digest = SHA256.HashData(buffer.WrittenSpan);
        buffer.Write(digest.AsSpan(0, DigestLength));
        return buffer.WrittenSpan.ToArray();
    }

    /// <summary>Makes an engine from a snapshot, or says why not: alien, of another version, or damaged.</summary>
    public static bool TryRestore(ReadOnlySpan<byte> snapshot, out WatchEngine engine, out string whyNot)
    {
        engine = new WatchEngine();
        if (snapshot.Length < HeaderLength + DigestLength || !snapshot[..4].SequenceEqual(SnapshotMagic))
        {
            whyNot = "This is no snapshot of the judgement.";
            return false;
        }

        int version = BinaryPrimitives.ReadInt32LittleEndian(snapshot[4..]);
        if (version != SnapshotVersion)
        {
            whyNot = $"The snapshot is of version {version}; this program reads version {SnapshotVersion}.";
            return false;
        }

        ReadOnlySpan<byte> body = snapshot[..^DigestLength];
        if (!SHA256.HashData(body).AsSpan(0, DigestLength).SequenceEqual(snapshot[^DigestLength..]))
        {
            whyNot = "The snapshot is damaged: its digest does not match.";
            return false;
        }

        try
        {
            var archive = StateArchive.ForReading(body[HeaderLength..].ToArray());
            engine.Sync(archive);
            whyNot = archive.Unread == 0 ? "" : $"The snapshot has {archive.Unread} bytes too many.";
        }
        catch (Exception exception) when (exception is FormatException or ArgumentException or InvalidOperationException or JsonException)
        {
            whyNot = $"The snapshot can't be read: {exception.Message}";
        }

        if (whyNot.Length > 0)
        {
            engine = new WatchEngine();
            return false;
        }

        return true;
    }

    private void Sync(StateArchive archive)
    {
        archive.Sync(ref _lastNumber);
        archive.Sync(ref _lateInputs);
        archive.Sync(ref _lastTime);
        archive.Sync(ref _hasStarted);
        archive.Sync(ref _stoppedOnPurpose);
        SyncAnchors(archive);

        byte[]? benchJson = _benchJson;
        archive.Sync(ref benchJson);
        if (!archive.IsWriting && benchJson is not null)
        {
            var bench = (BenchDefinition)PayloadJson.FromUtf8(InputKind.Bench, benchJson);
            Seat(bench, benchJson, [.. bench.Channels.Select(c => new ChannelWatch(c))]);
            _context.Quantities.Seat(_context, bench.Quantities);
            SeatWatched();
        }

        _context.Desk.Sync(archive);
        _context.Machine.Sync(archive);
        _autoBaseline.Sync(archive);
        archive.Sync(ref _transfer);
        foreach (ChannelWatch channel in _channels)
        {
            channel.Sync(archive, _context.Desk);
        }

        _context.Quantities.Sync(archive, _context.Desk);
        _wear.Sync(archive, _context.Desk);
        _store.Sync(archive, _context.Desk);
        _mirrors.Sync(archive, _context.Desk);
        _tape.Sync(archive);
        _causes.Sync(archive, _context.Desk);
        _alarms.Sync(archive);
        foreach (InstrumentWatch instrument in _instruments)
        {
            instrument.Sync(archive, _context.Desk);
        }
    }

    private void SyncAnchors(StateArchive archive)
    {
        int count = archive.SyncCount(_anchors.Anchors.Count);
        for (int i = 0; i < count; i++)
        {
            TimeAnchor anchor = archive.IsWriting ? _anchors.Anchors[i] : default;
            EngineTime engine = anchor.Engine;
            long utc = anchor.UtcNanoseconds;
            archive.Sync(ref engine);
            archive.Sync(ref utc);
            if (!archive.IsWriting)
            {
                _anchors.Add(new TimeAnchor(engine, utc));
            }
        }
    }
}
