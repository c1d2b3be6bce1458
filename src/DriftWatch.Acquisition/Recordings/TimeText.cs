using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// Reads RFC 3339 times from UTF-8: <c>yyyy-mm-ddThh:mm:ss[.fraction](Z|±hh:mm)</c>, a blank or a small letter in
/// place of <c>T</c> and <c>Z</c> as the RFC allows. A time without its offset is refused: which hour it means can't
/// be told. Keeps the day last seen, since the rows of a recording mostly share it.
/// </summary>
internal struct TimeText
{
    private ulong _dayText;
    private ushort _dayTextEnd;
    private long _dayStart;
    private bool _hasDay;

    /// <summary>UTC nanoseconds since 1970, digits beyond the nanosecond dropped; false when the text is no such time.</summary>
    public bool TryParse(ReadOnlySpan<byte> text, out long utcNanoseconds)
    {
        utcNanoseconds = 0;
        if (text.Length < 20 || !TryDay(text, out long nanoseconds) || text[10] is not ((byte)'T' or (byte)'t' or (byte)' '))
        {
            return false;
        }

        int hour = TwoDigits(text, 11);
        int minute = TwoDigits(text, 14);
        int second = TwoDigits(text, 17);
        if (hour is < 0 or > 23 || minute is < 0 or > 59 || second is < 0 or > 60 || text[13] != ':' || text[16] != ':')
        {
            return false;
        }

        // A leap second (:60) is the first second of the next minute, as POSIX counts.
        nanoseconds += ((hour * 3600L) + (minute * 60L) + second) * EngineTime.NanosecondsPerSecond;

        int i = 19;
        if (text[i] == '.')
        {
            i++;
            int first = i;
            long unit = EngineTime.NanosecondsPerSecond / 10;
            while (i < text.Length && (uint)(text[i] - '0') <= 9)
            {
                nanoseconds += (text[i] - '0') * unit;
                unit /= 10;
                i++;
            }

            if (i == first)
            {
                return false;
            }
        }

        if (i == text.Length - 1 && text[i] is (byte)'Z' or (byte)'z')
        {
            utcNanoseconds = nanoseconds;
            return true;
        }

        if (i != text.Length - 6 || text[i] is not ((byte)'+' or (byte)'-') || text[i + 3] != ':')
        {
            return false;
        }

        int offsetHour = TwoDigits(text, i + 1);
        int offsetMinute = TwoDigits(text, i + 4);
        if (offsetHour is < 0 or > 23 || offsetMinute is < 0 or > 59)
        {
            return false;
        }

        long offset = ((offsetHour * 60L) + offsetMinute) * 60 * EngineTime.NanosecondsPerSecond;
        utcNanoseconds = text[i] == '+' ? nanoseconds - offset : nanoseconds + offset;
        return true;
    }

    private bool TryDay(ReadOnlySpan<byte> text, out long nanoseconds)
    {
        ulong start = System.Buffers.Binary.BinaryPrimitives.ReadUInt64LittleEndian(text);
        ushort end = System.Buffers.Binary.BinaryPrimitives.ReadUInt16LittleEndian(text[8..]);
        if (_hasDay && start == _dayText && end == _dayTextEnd)
        {
            nanoseconds = _dayStart;
            return true;
        }

        nanoseconds = 0;
        int century = TwoDigits(text, 0);
        int year = TwoDigits(text, 2);
        int month = TwoDigits(text, 5);
        int day = TwoDigits(text, 8);
        if (century < 0 || year < 0 || text[4] != '-' || text[7] != '-' || month is < 1 or > 12 || day < 1)
        {
            return false;
        }

        int fullYear = (century * 100) + year;

        // Nanoseconds since 1970 fit 64 bits from 1678 to 2261.
        if (fullYear is < 1678 or > 2261 || day > DateTime.DaysInMonth(fullYear, month))
        {
            return false;
        }

        nanoseconds = (new DateTime(fullYear, month, day, 0, 0, 0, DateTimeKind.Utc) - DateTime.UnixEpoch).Ticks
            * TimeSpan.NanosecondsPerTick;
        (_dayText, _dayTextEnd, _dayStart, _hasDay) = (start, end, nanoseconds, true);
        return true;
    }

    private static int TwoDigits(ReadOnlySpan<byte> text, int at)
    {
        int tens = text[at] - '0';
        int ones = text[at + 1] - '0';
        return (uint)tens <= 9 && (uint)ones <= 9 ? (tens * 10) + ones : -1;
    }
}
