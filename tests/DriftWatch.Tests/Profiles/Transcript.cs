using System.Globalization;
using System.Text;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Configuration;

namespace DriftWatch.Tests.Profiles;

/// <summary>One line of a transcript.</summary>
/// <param name="Kind">'&gt;' sent by us, '&lt;' sent by the instrument, '=' expected.</param>
/// <param name="Line">Counted from 1.</param>
internal sealed record TranscriptEntry(char Kind, byte[] Bytes, string[] Words, int Line);

/// <summary>The transcript of a profile; its own head says how it is written.</summary>
internal static class Transcript
{
    public static string PathOf(string profile) => Path.Combine(ProfileFolders.Default[0], profile, "transcript.txt");

    public static IReadOnlyList<TranscriptEntry> Read(string profile)
    {
        var entries = new List<TranscriptEntry>();
        int number = 0;
        foreach (string line in File.ReadLines(PathOf(profile)))
        {
            number++;
            if (line.Length == 0 || line[0] == '#')
            {
                continue;
            }

            string rest = line[1..];
            byte[] bytes = line[0] == '=' ? []
                : rest.StartsWith("x ", StringComparison.Ordinal) ? Convert.FromHexString(rest[2..].Replace(" ", "", StringComparison.Ordinal))
                : Encoding.ASCII.GetBytes(Unescape(rest.TrimStart()));
            Assert(line[0] is '<' or '>' or '=', profile, number);
            entries.Add(new TranscriptEntry(line[0], bytes, rest.Split(' ', StringSplitOptions.RemoveEmptyEntries), number));
        }

        return entries;
    }

    public static double Number(string word) => double.Parse(word, CultureInfo.InvariantCulture);

    private static void Assert(bool sound, string profile, int line)
    {
        if (!sound)
        {
            throw new FormatException($"{profile}/transcript.txt({line}): a line begins with '<', '>', '=' or '#'.");
        }
    }

    private static string Unescape(string text) =>
        text.Replace("\\n", "\n", StringComparison.Ordinal).Replace("\\r", "\r", StringComparison.Ordinal).Replace("\\\\", "\\", StringComparison.Ordinal);
}

/// <summary>A link whose other end is a transcript: it must be told exactly what stands there, and then says what stands there.</summary>
internal sealed class TranscriptLink(IReadOnlyList<TranscriptEntry> entries) : IByteLink
{
    private readonly List<byte> _told = [];
    private readonly Queue<byte> _toSay = [];
    private int _next;

    public string Name => "transcript";

    public long LastArrival => TimeProvider.System.GetTimestamp();

    public bool IsThrough => _next == entries.Count && _toSay.Count == 0;

    /// <summary>The next entry that has neither been told nor said.</summary>
    public TranscriptEntry? Next => _next < entries.Count ? entries[_next] : null;

    public int Read(Span<byte> buffer, TimeSpan timeout)
    {
        int count = 0;
        while (count < buffer.Length && _toSay.TryDequeue(out byte b))
        {
            buffer[count++] = b;
        }

        return count;
    }

    public void Write(ReadOnlySpan<byte> bytes)
    {
        _told.AddRange(bytes);
        while (_next < entries.Count && entries[_next].Kind == '>' && _told.Count >= entries[_next].Bytes.Length)
        {
            TranscriptEntry due = entries[_next++];
            string told = Encoding.Latin1.GetString([.. _told.Take(due.Bytes.Length)]);
            Xunit.Assert.True(told == Encoding.Latin1.GetString(due.Bytes), $"line {due.Line}: sent {Convert.ToHexString(Encoding.Latin1.GetBytes(told))} '{told.Trim()}'");
            _told.RemoveRange(0, due.Bytes.Length);
            while (_next < entries.Count && entries[_next].Kind == '<')
            {
                foreach (byte b in entries[_next++].Bytes)
                {
                    _toSay.Enqueue(b);
                }
            }
        }
    }

    public void Wake()
    {
    }

    public void Dispose()
    {
    }
}
