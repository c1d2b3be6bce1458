using System.Security.Cryptography;

namespace DriftWatch.Reports.Dossiers;

/// <summary>Passes on what is written and keeps its length and its SHA-256 and SHA-512, so that a file is read by nobody twice.</summary>
internal sealed class HashingStream(Stream inner) : Stream
{
    private readonly IncrementalHash _sha256 = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
    private readonly IncrementalHash _sha512 = IncrementalHash.CreateHash(HashAlgorithmName.SHA512);

    public long Bytes { get; private set; }

    /// <summary>Lower-case hex of what was written so far.</summary>
    public string Sha256 => Convert.ToHexStringLower(_sha256.GetCurrentHash());

    public string Sha512 => Convert.ToHexStringLower(_sha512.GetCurrentHash());

    public override bool CanRead => false;

    public override bool CanSeek => false;

    public override bool CanWrite => true;

    public override long Length => Bytes;

    public override long Position
    {
        get => Bytes;
        set => throw new NotSupportedException();
    }

    public override void Write(ReadOnlySpan<byte> buffer)
    {
        _sha256.AppendData(buffer);
        _sha512.AppendData(buffer);
        Bytes += buffer.Length;
        inner.Write(buffer);
    }

    public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

    public override void Flush() => inner.Flush();

    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    /// <summary>The hashes can still be asked for afterwards: a writer that owns the stream closes it when it is done.</summary>
    protected override void Dispose(bool disposing)
    {
        if (disposing)
        {
            inner.Dispose();
        }

        base.Dispose(disposing);
    }
}
