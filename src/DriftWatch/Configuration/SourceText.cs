using System.Text;

namespace DriftWatch.Configuration;

/// <summary>Reads a text file as UTF-8, strictly: a wrong byte is a mistake with its line, not a question mark.</summary>
internal static class SourceText
{
    /// <summary>No bench file of sense is larger; a wrong file (a recording, a disk image) is told apart early.</summary>
    private const int LargestBytes = 4 << 20;

    public static string? Read(string path, MistakeList mistakes)
    {
        byte[] bytes;
        try
        {
            if (new FileInfo(path).Length > LargestBytes)
            {
                mistakes.Add(path, 1, 1, "the file is larger than 4 MiB, so it is no bench file", "name the bench file");
                return null;
            }

            bytes = File.ReadAllBytes(path);
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            string remedy = exception is UnauthorizedAccessException ? "give this user the right to read it" : "check the path";
            mistakes.Add(path, 1, 1, "the file can't be read: " + exception.Message.TrimEnd('.'), remedy);
            return null;
        }

        ReadOnlySpan<byte> body = bytes.AsSpan().StartsWith(Encoding.UTF8.Preamble) ? bytes.AsSpan(3) : bytes;
        try
        {
            return new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(body);
        }
        catch (DecoderFallbackException exception)
        {
            ReadOnlySpan<byte> before = body[..Math.Clamp(exception.Index, 0, body.Length)];
            int line = before.Count((byte)'\n') + 1;
            int column = before.Length - before.LastIndexOf((byte)'\n');
            mistakes.Add(path, line, column, "this byte is not UTF-8", "save the file as UTF-8");
            return null;
        }
    }
}
