using DriftWatch.Acquisition.Recordings;

namespace DriftWatch.Tests.Recordings;

public sealed class CsvRecordingReaderTests : IDisposable
{
    private const string T = "2026-03-01T21:00:0";

    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Numbers_faults_and_empty_cells_are_told_apart()
    {
        string path = _folder.Write("a.csv", $"time,air,vacuum\n{T}0.000Z,49.85,-0.5\n{T}0.100Z,,!open-loop\n{T}0.200Z,1e2,\n");
        using var reader = new CsvRecordingReader(path, Options("air", "vacuum"));
        Assert.Equal(
            ["21:00:00.000 49.85 -0.5", "21:00:00.100 - !OpenLoop", "21:00:00.200 100 -"],
            RecordingFolder.Rows(reader));
        Assert.Empty(reader.Notices.All);
    }

    // RFC 4180, section 2: rules 1 (CRLF), 2 (last line end optional), 5 and 6 (quotes, commas and line breaks in them), 7 (doubled quotes).
    [Theory]
    [InlineData("time,air\r\n{T}0Z,1\r\n{T}1Z,2\r\n", "21:00:00.000 1|21:00:01.000 2")]
    [InlineData("time,air\r\n{T}0Z,1\r\n{T}1Z,2", "21:00:00.000 1|21:00:01.000 2")]
    [InlineData("\"time\",\"air\"\r\n\"{T}0Z\",\"1.5\"\r\n", "21:00:00.000 1.5")]
    [InlineData("time,air,\"a,b\"\r\n{T}0Z,1,\r\n", "21:00:00.000 1 -")]
    [InlineData("time,air,\"a\r\nb\"\r\n{T}0Z,1,\"\"\r\n", "21:00:00.000 1 -")]
    [InlineData("time,air,\"say \"\"x\"\"\"\r\n{T}0Z,1,\"2\"\r\n", "21:00:00.000 1 2")]
    [InlineData("\uFEFFtime,air\n{T}0Z,1\n", "21:00:00.000 1")]
    [InlineData("air,time\n7,{T}0Z\n", "21:00:00.000 7")]
    [InlineData("time,air\n\n{T}0Z, 7 \n\n", "21:00:00.000 7")]
    [InlineData("time,air\n2026-03-01T22:00:00.5+01:00,7\n2026-03-01 21:00:01z,8\n", "21:00:00.500 7|21:00:01.000 8")]
    [InlineData("time,air\n{T}0.0009Z,.5\n{T}1.9999999Z,5.\n", "21:00:00.000 0.5|21:00:01.999 5")]
    public void Every_form_that_RFC_4180_and_RFC_3339_allow_is_read(string text, string rows)
    {
        string path = _folder.Write("a.csv", text.Replace("{T}", T, StringComparison.Ordinal));
        using var reader = new CsvRecordingReader(path);
        Assert.Equal(rows.Split('|'), RecordingFolder.Rows(reader));
    }

    [Theory]
    [InlineData("", "(1,1): the file is empty; a recording begins with a heading line such as 'time,regulated-air'")]
    [InlineData("when,air\n", "(1,1): no column is headed 'time' (found 'when', 'air'); write a heading line such as 'time,regulated-air' with the times in UTC as 2026-03-01T21:00:00.000Z")]
    [InlineData("time;air\n", "(1,1): no column is headed 'time' (found 'time;air'); separate columns by commas, with a point in decimal numbers")]
    [InlineData("time,ari\n", "(1,6): the bench knows no channel 'ari'; did you mean 'air'? rename the column, add 'ari' to a channel's aliases in the bench file, or pass --ignore-unknown-columns")]
    [InlineData("time,air,air\n", "(1,10): column 'air' stands twice; remove or rename one of the two")]
    [InlineData("time,air,regulated\n", "(1,10): columns 'air' and 'regulated' are the same channel; remove or rename one of the two")]
    [InlineData("time,air.min\n", "(1,6): column 'air.min' has no column 'air' beside it; add the column 'air'")]
    [InlineData("time,air,\n", "(1,10): column 3 has no name; name it by its channel's id, or remove it")]
    [InlineData("time,air,time\n", "(1,10): column 'time' stands twice; remove or rename one of the two")]
    [InlineData("time,air\n{T}0Z,1,2\n", "(2,1): the row has 3 cells where the heading has 2; write decimal numbers with a point, and quote text that holds a comma")]
    [InlineData("time,air,vacuum\n{T}0Z,1\n", "(2,1): the row has 2 cells where the heading has 3; leave a cell empty where there is no reading, but keep its comma")]
    [InlineData("time,air\n{T}0Z,1\n{T}1Z,4x\n", "(3,22): '4x' in column 'air' is not a number; write a decimal number such as 49.85, nothing where there is no reading, or a fault such as !no-answer")]
    [InlineData("time,air\n{T}0Z,\"1,5\"\n", "(2,22): '1,5' in column 'air' is not a number; write a decimal number such as 49.85, nothing where there is no reading, or a fault such as !no-answer")]
    [InlineData("time,air\n{T}0,1\n", "(2,1): '2026-03-01T21:00:00' is not a time; write RFC 3339 with its offset, in UTC such as 2026-03-01T21:00:00.000Z")]
    [InlineData("time,air\n2026-02-29T00:00:00Z,1\n", "(2,1): '2026-02-29T00:00:00Z' is not a time; write RFC 3339 with its offset, in UTC such as 2026-03-01T21:00:00.000Z")]
    [InlineData("time,air\n{T}0Z,1\"2\n", "(2,22): a quote stands inside a cell that does not begin with one; quote the whole cell and double the quotes inside it, as RFC 4180 says")]
    [InlineData("time,air\n{T}0Z,\"1\"2\n", "(2,22): text stands behind a closing quote; quote the whole cell and double the quotes inside it, as RFC 4180 says")]
    [InlineData("time,air\n{T}0Z,\"1\n{T}1Z,2\n{T}2Z,3\n", "(2,22): a quote is opened and never closed; close the quote; everything behind it was taken as one cell")]
    [InlineData("time,timing\n{T}0Z,5\n", "(2,22): '5' stands in column 'timing', whose channel holds frames; leave the cell empty or write a fault; frames belong in the side file {F}a.timing.frames.csv")]
    public void Bad_input_is_refused_with_place_reason_and_remedy(string text, string message)
    {
        string path = _folder.Write("a.csv", text.Replace("{T}", T, StringComparison.Ordinal));
        var error = Assert.Throws<RecordingException>(() =>
        {
            using var reader = new CsvRecordingReader(path, Options("air", "vacuum", "timing"));
            RecordingFolder.Rows(reader);
        });
        Assert.Equal(path + message.Replace("{F}", _folder.Folder + Path.DirectorySeparatorChar, StringComparison.Ordinal), error.Message);
    }

    [Fact]
    public void An_unknown_fault_names_the_nearest_and_all_there_are()
    {
        string path = _folder.Write("a.csv", $"time,air\n{T}0Z,!no-anser\n");
        using var reader = new CsvRecordingReader(path);
        var error = Assert.Throws<RecordingException>(() => reader.ReadRow());
        Assert.Contains("'!no-anser' in column 'air' is no fault; did you mean 'no-answer'? write one of !missing, !no-answer", error.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("NaN")]
    [InlineData("inf")]
    [InlineData("-Infinity")]
    [InlineData("1e999")]
    public void What_is_no_finite_number_becomes_a_fault_and_is_counted(string text)
    {
        string path = _folder.Write("a.csv", $"time,air\n{T}0Z,{text}\n{T}1Z,1\n");
        using var reader = new CsvRecordingReader(path);
        Assert.Equal(["21:00:00.000 !NotANumber", "21:00:01.000 1"], RecordingFolder.Rows(reader));
        Assert.Equal(1, reader.Notices.NotANumberCells);
        Assert.Equal($"{path}(2): '{text}' in column 'air' is no finite number; it is taken as the fault !not-a-number", reader.Notices.All[0].ToString());
    }

    [Fact]
    public void Unknown_columns_are_read_over_on_request_and_a_notice_says_so()
    {
        string path = _folder.Write("a.csv", $"time,spare,air\n{T}0Z,rubbish,2\n");
        using var reader = new CsvRecordingReader(path, Options("air") with { IgnoreUnknownColumns = true });
        Assert.Equal(["21:00:00.000 - 2"], RecordingFolder.Rows(reader));
        Assert.Equal($"{path}(1): column 'spare' is ignored: the bench knows no such channel", Assert.Single(reader.Notices.All).ToString());
    }

    [Fact]
    public void A_last_line_with_cells_missing_is_left_out_and_a_notice_says_so()
    {
        string path = _folder.Write("a.csv", $"time,air,vacuum\n{T}0Z,1,2\n{T}1Z,1");
        using var reader = new CsvRecordingReader(path);
        Assert.Equal(["21:00:00.000 1 2"], RecordingFolder.Rows(reader));
        Assert.True(reader.Notices.IsTruncated);
        Assert.Equal($"{path}(3): the last line is cut short and was left out; everything before it was read", Assert.Single(reader.Notices.All).ToString());
    }

    [Fact]
    public void A_compressed_file_of_several_members_is_whole()
    {
        byte[] first = File.ReadAllBytes(_folder.WriteGzip("1.gz", $"time,air\n{T}0Z,1\n"));
        byte[] second = File.ReadAllBytes(_folder.WriteGzip("2.gz", $"{T}1Z,2\n"));
        File.WriteAllBytes(_folder.PathOf("both.csv.gz"), [.. first, .. second]);
        using var reader = new CsvRecordingReader(_folder.PathOf("both.csv.gz"));
        Assert.Equal(["21:00:00.000 1", "21:00:01.000 2"], RecordingFolder.Rows(reader));
        Assert.Empty(reader.Notices.All);
    }

    [Fact]
    public void A_compressed_recording_cut_anywhere_gives_the_whole_rows_before_the_cut()
    {
        string text = "time,air\n" + string.Concat(Enumerable.Range(0, 5000).Select(i => $"2026-03-01T21:{i / 60 % 60:00}:{i % 60:00}Z,{i * 7919 % 1000}.{i % 10}\n"));
        string whole = _folder.WriteGzip("whole.csv", text); // told by its content, not by its name
        using var reader = new CsvRecordingReader(whole);
        List<string> all = RecordingFolder.Rows(reader);
        Assert.Equal(5000, all.Count);
        int size = (int)new FileInfo(whole).Length;
        int most = 0;
        foreach (int cut in (int[])[size / 10, size / 3, size / 2, size - 100, size - 9, size - 8, size - 4, size - 1])
        {
            string path = _folder.WriteGzip("cut.csv.gz", text, cut);
            using var cutReader = new CsvRecordingReader(path);
            List<string> rows = RecordingFolder.Rows(cutReader);
            Assert.Equal(all[..rows.Count], rows);
            Assert.True(cutReader.Notices.IsTruncated, $"cut at {cut} of {size} was not noticed");
            Assert.True(rows.Count >= most);
            most = rows.Count;
        }

        Assert.InRange(most, 4900, 5000);
    }

    private static CsvRecordingOptions Options(params string[] ids) => new() { Channels = RecordingFolder.Bench(ids).Channels };
}
