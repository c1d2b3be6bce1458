using System.Buffers.Binary;

namespace DriftWatch.SystemTests.Service;

/// <summary>What SQLite's write-ahead log shows of a transaction that never ended, by its published file format (sqlite.org, 'WAL-mode File Format').</summary>
internal static class WriteAheadLog
{
    private const int HeaderBytes = 32;
    private const int FrameHeaderBytes = 24;

    /// <summary>Whole frames after the last commit frame: pages of a transaction that was being written when the process died.</summary>
    public static int UncommittedFrames(string path)
    {
        if (!File.Exists(path))
        {
            return 0;
        }

        byte[] bytes = File.ReadAllBytes(path);
        if (bytes.Length < HeaderBytes)
        {
            return 0;
        }

        int frame = FrameHeaderBytes + (int)BinaryPrimitives.ReadUInt32BigEndian(bytes.AsSpan(8));
        ReadOnlySpan<byte> salts = bytes.AsSpan(16, 8);
        int uncommitted = 0;
        for (int at = HeaderBytes; at + frame <= bytes.Length; at += frame)
        {
            ReadOnlySpan<byte> header = bytes.AsSpan(at, FrameHeaderBytes);
            if (!header.Slice(8, 8).SequenceEqual(salts))
            {
                break; // left from before the log began anew
            }

            bool commits = BinaryPrimitives.ReadUInt32BigEndian(header[4..]) != 0;
            uncommitted = commits ? 0 : uncommitted + 1;
        }

        return uncommitted;
    }
}
