using System.Globalization;
using System.Text;
using DriftWatch.Acquisition.Recordings;
using Xunit.Abstractions;

namespace DriftWatch.Tests.Recordings;

public sealed class DecimalTextTests(ITestOutputHelper output) : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    /// <summary>Held against the library's correctly rounded parser, through a whole file so that the shipped path is the tested one.</summary>
    [Fact]
    public void Every_decimal_text_reads_to_the_double_that_the_library_reads()
    {
        const int Seed = 20260301;
        output.WriteLine($"seed {Seed}");
        var random = new Random(Seed);
        List<string> texts =
        [
            "0", "-0", "0.0", "-0.0", "00012.50", "1.", ".1", "9007199254740992", "9007199254740993", "90071992547409.93",
            "0.0000000000000000000001", "123456789012345678", "1234567890123456789", "12345678901234567890123", "1e-5", "1E+5", "4.9e-324",
            "2.2250738585072011e-308", "1.7976931348623157e308", "0.30000000000000004", "5e-324", "+7", "8.5e15", "3.0000000000000000000000000001",
        ];
        for (int i = 0; i < 200_000; i++)
        {
            texts.Add((i % 4) switch
            {
                0 => (random.NextDouble() * Math.Pow(10, random.Next(-12, 18))).ToString("R", CultureInfo.InvariantCulture),
                1 => BitConverter.Int64BitsToDouble(random.NextInt64() & 0x7FEF_FFFF_FFFF_FFFF).ToString("R", CultureInfo.InvariantCulture),
                2 => random.NextInt64(10_000_000).ToString(CultureInfo.InvariantCulture) + "." + random.Next(1_000_000).ToString("D6", CultureInfo.InvariantCulture),
                _ => "-" + new string([.. Enumerable.Range(0, random.Next(1, 25)).Select(_ => (char)('0' + random.Next(10)))]) + "." + random.Next(1000),
            });
        }

        var file = new StringBuilder("time,x\n");
        foreach (string text in texts)
        {
            file.Append("2026-03-01T21:00:00Z,").Append(text).Append('\n');
        }

        using var reader = new CsvRecordingReader(_folder.Write("a.csv", file.ToString()));
        foreach (string text in texts)
        {
            Assert.True(reader.ReadRow());
            double expected = double.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture);
            Assert.True(
                BitConverter.DoubleToInt64Bits(expected) == BitConverter.DoubleToInt64Bits(reader.Cells[0].Value),
                $"{text}: {expected:R} and {reader.Cells[0].Value:R}");
        }
    }

    [Theory]
    [InlineData("-")]
    [InlineData(".")]
    [InlineData("1.2.3")]
    [InlineData("1-2")]
    [InlineData("0x10")]
    [InlineData("1,000")]
    [InlineData("12 34")]
    [InlineData("\u22125")] // a minus sign that is not ASCII
    public void What_is_no_decimal_number_is_refused(string text)
    {
        using var reader = new CsvRecordingReader(_folder.Write("a.csv", $"time,x\n2026-03-01T21:00:00Z,\"{text}\"\n"));
        Assert.Throws<RecordingException>(() => reader.ReadRow());
    }
}
