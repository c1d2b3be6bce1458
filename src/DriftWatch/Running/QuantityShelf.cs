using System.IO.Compression;
using System.Runtime.InteropServices;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch;

namespace DriftWatch.Running;

/// <summary>Which piece of which bench, by the width of its columns in nanoseconds and its number among pieces of that width.</summary>
internal readonly record struct QuantityKey(string Bench, string Hash, long Width, long Number);

/// <summary>Columns of each derived quantity, in the bench's order; a quantity that was never told has none.</summary>
/// <param name="Rows">A row a quantity.</param>
/// <param name="Known">What judgement knew before the piece's first input; null where that was not kept.</param>
internal sealed record QuantityPiece(KeptColumn[][] Rows, byte[]? Known)
{
    /// <summary>Nothing was judged there.</summary>
    public static QuantityPiece Empty { get; } = new([], null);

    /// <summary>About what it takes of the memory.</summary>
    public int Bytes => Rows.Sum(row => row.Length * Marshal.SizeOf<KeptColumn>()) + (Known?.Length ?? 0) + 512;
}

/// <summary>Pieces of derived quantities that were worked out, the newest used of them. Not safe from several threads.</summary>
internal sealed class QuantityShelf
{
    /// <summary>A night of 14 h with 26 quantities. Source: derived from the service's 150 MB and what a night takes.</summary>
    public const long MostBytes = 24 << 20;

    private readonly Dictionary<QuantityKey, LinkedListNode<(QuantityKey Key, QuantityPiece Piece)>> _pieces = [];
    private readonly LinkedList<(QuantityKey Key, QuantityPiece Piece)> _used = new();

    /// <summary>What is held now; never more than <see cref="MostBytes"/>.</summary>
    public long Bytes { get; private set; }

    public QuantityPiece? Find(QuantityKey key)
    {
        if (!_pieces.TryGetValue(key, out var node))
        {
            return null;
        }

        _used.Remove(node);
        _used.AddLast(node);
        return node.Value.Piece;
    }

    public void Keep(QuantityKey key, QuantityPiece piece)
    {
        if (_pieces.ContainsKey(key))
        {
            return;
        }

        _pieces.Add(key, _used.AddLast((key, piece)));
        Bytes += piece.Bytes;
        while (Bytes > MostBytes)
        {
            (QuantityKey oldest, QuantityPiece left) = _used.First!.Value;
            _pieces.Remove(oldest);
            _used.RemoveFirst();
            Bytes -= left.Bytes;
        }
    }

    /// <summary>All that an engine knows, for <see cref="QuantityPiece.Known"/>; null before it has a bench. Packed: 140 KB are some 30 then.</summary>
    public static byte[]? Packed(WatchEngine engine)
    {
        if (engine.Bench is null)
        {
            return null;
        }

        using var to = new MemoryStream();
        using (var pack = new DeflateStream(to, CompressionLevel.Fastest))
        {
            pack.Write(engine.Snapshot());
        }

        return to.ToArray();
    }

    /// <summary>An engine that knows all up to an instant, or up to a little before it; null where nothing that new is kept.</summary>
    /// <param name="bench">Its id.</param>
    /// <param name="hash">Of its file.</param>
    /// <param name="at">The instant.</param>
    /// <param name="reach">Nothing older is worth going on from.</param>
    public WatchEngine? EngineAt(string bench, string hash, EngineTime at, TimeSpan reach)
    {
        byte[]? known = _used.Where(p => p.Piece.Known is not null && p.Key.Bench == bench && p.Key.Hash == hash)
            .Select(p => (At: new EngineTime(p.Key.Width * p.Key.Number * QuantityDesk.BlockSeconds), p.Piece.Known))
            .Where(p => p.At <= at && p.At > at - reach)
            .OrderByDescending(p => p.At.Nanoseconds)
            .FirstOrDefault().Known;
        if (known is null)
        {
            return null;
        }

        using var unpacked = new MemoryStream();
        using (var from = new DeflateStream(new MemoryStream(known), CompressionMode.Decompress))
        {
            from.CopyTo(unpacked);
        }

        return WatchEngine.TryRestore(unpacked.ToArray(), out WatchEngine engine, out _) ? engine : null;
    }
}
