using System.Text.RegularExpressions;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Reports.Reviews;
using Xunit;

namespace DriftWatch.Tests.Reports.Reviews;

/// <summary>Each export against its published grammar, and its times against times worked out by hand.</summary>
public sealed class ReviewExportTests
{
    private static readonly ReviewRow[] Rows =
    [
        new(60, 90.5, 0, 30.5, "run-again", "The air failed, \"badly\" --> <here> & there.\nSecond line."),
        new(3600, 3600, 3540, 3540, "run-again", "A mark."),
    ];

    [Fact]
    public void Csv_is_that_of_RFC_4180()
    {
        string text = ReviewExports.Csv(Rows);
        Assert.StartsWith("from,to,run-from,run-to,what,text\r\n60.000,90.500,0.000,30.500,run-again,\"The air failed, \"\"badly\"\" --> <here> & there.\nSecond line.\"\r\n", text, StringComparison.Ordinal);
        Assert.EndsWith("3600.000,3600.000,3540.000,3540.000,run-again,\"A mark.\"\r\n", text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("525/60", PositionBasis.ElapsedTime, "00:00:59:28", "00:01:30:13", "00:00:30:15")] // 60 s · 29.97 = 1798.2 frames, 90.5 s · 29.97 = 2712.3
    [InlineData("525/60", PositionBasis.Timecode, "00:01:00:00", "00:01:30:15", "00:00:30:15")]
    [InlineData("625/50", PositionBasis.ElapsedTime, "00:01:00:00", "00:01:30:13", "00:00:30:13")] // 90.5 s · 25 = 2262.5, to the next whole frame
    public void An_edit_list_has_fixed_columns_whole_frames_and_record_times_that_follow_each_other(
        string standard, PositionBasis basis, string from, string to, string length)
    {
        string[] lines = ReviewExports.EditList(Rows, "VT 1047 pass 1", "VT 1047/B long", standard, basis).Split("\r\n");
        Assert.Equal("TITLE: VT 1047 pass 1", lines[0]);
        Assert.Equal("FCM: NON-DROP FRAME", lines[1]);
        Assert.Equal($"001  VT1047BL B     C        {from} {to} 00:00:00:00 {length}", lines[3]);
        Assert.StartsWith("* The air failed", lines[4], StringComparison.Ordinal);
        Assert.Contains($" {length} ", lines[6], StringComparison.Ordinal);
        var events = new Regex("^\\d{3}  [A-Z0-9]{1,8} *B     C        (?:\\d\\d:[0-5]\\d:[0-5]\\d:[0-2]\\d ?){4}$", RegexOptions.None, TimeSpan.FromSeconds(1));
        Assert.All(lines.Where(l => l.Length > 0 && char.IsAsciiDigit(l[0])), l => Assert.Matches(events, l));
        Assert.Equal(2, lines.Count(l => l.Length > 0 && char.IsAsciiDigit(l[0])));
    }

    [Fact]
    public void An_edit_list_is_in_ascii_and_what_is_not_is_written_out()
    {
        string text = ReviewExports.EditList(
            [new(1, 2, 1, 2, "mark", "−3.2 dB ± 40 µs at 12 °C: “Fête”, Łódź, ½ turn, 磁带 e\u0301t\u00e9")], "Fête à Ørsted", "VT", "625/50", PositionBasis.Counter);
        Assert.Contains("TITLE: Fete a Orsted\r\n", text, StringComparison.Ordinal);
        Assert.Contains("* -3.2 dB +- 40 us at 12 deg C: \"Fete\", Lodz, 1/2 turn, CiDai ete\r\n", text, StringComparison.Ordinal);
        Assert.All(text, c => Assert.True(char.IsAscii(c)));
    }

    /// <summary>A counter that was put to zero at the programme's begin stands below it in the lead-in.</summary>
    [Fact]
    public void A_place_before_zero_is_said_to_lie_there()
    {
        string text = ReviewExports.EditList([new(-12, 3, 0, 15, "mark", "A mark.")], "t", "VT", "625/50", PositionBasis.Counter);
        Assert.Contains(" 00:00:00:00 00:00:03:00 00:00:00:00 00:00:03:00\r\n* A mark.\r\n* IT BEGINS BEFORE 00:00:00:00", text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(999, false)]
    [InlineData(1000, true)]
    public void An_edit_list_numbers_no_more_than_three_digits_can_and_says_what_is_missing(int count, bool says)
    {
        ReviewRow[] rows = [.. Enumerable.Range(0, count).Select(i => new ReviewRow(i, i + 1, i, i + 1, "mark", "A mark."))];
        string[] lines = ReviewExports.EditList(rows, "VT 1047 pass 1", "VT 1047", "625/50", PositionBasis.Counter).Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
        string[] events = [.. lines.Where(l => char.IsAsciiDigit(l[0]))];
        Assert.Equal(999, events.Length);
        Assert.All(events, e => Assert.Equal(' ', e[3]));
        Assert.StartsWith("999  VT1047   B     C        00:16:38:00 00:16:39:00 ", events[^1], StringComparison.Ordinal);
        Assert.Equal(says, lines[^1] == "* THIS LIST HAS 999 OF 1000 EVENTS, AS MANY AS ITS FORMAT CAN NUMBER. THE CSV HAS THEM ALL.");
        Assert.Equal(count + 1, ReviewExports.Csv(rows).Split("\r\n", StringSplitOptions.RemoveEmptyEntries).Length);
    }

    [Fact]
    public void WebVtt_has_its_signature_ends_after_begins_and_no_markup()
    {
        string text = ReviewExports.WebVtt(Rows, "VT 1047 pass 1");
        string[] blocks = text.TrimEnd('\n').Split("\n\n");
        Assert.Equal("WEBVTT - VT 1047 pass 1", blocks[0]);
        Assert.Equal(["1", "00:00:00.000 --> 00:00:30.500", "run-again: The air failed, \"badly\" --&gt; &lt;here&gt; &amp; there. Second line."], blocks[1].Split('\n'));
        Assert.Equal(["2", "00:59:00.000 --> 00:59:01.000", "run-again: A mark."], blocks[2].Split('\n'));
        Assert.Equal(3, blocks.Length);
    }
}
