using System.Diagnostics;
using System.Text;
using System.Text.Json;
using DriftWatch.Reports.Reviews;
using Microsoft.Playwright;
using Xunit;

namespace DriftWatch.SystemTests.Page.Transfers;

/// <summary>The captions of a review as others read them: Debian's python3-webvtt, and the parser of a browser (W3C WebVTT).</summary>
[Collection(BrowserCollection.Name)]
public sealed class CaptionTests(BrowserFixture fixture)
{
    private static readonly string Text = ReviewExports.WebVtt(
        [
            new ReviewRow(60, 90.5, 0, 30.5, "run-again", "The air failed, \"badly\" --> <here> & there.\nSecond line."),
            new ReviewRow(3600, 3600, 3540, 3540, "run-again", "A mark."),
        ],
        "VT 1047 --> pass 1");

    [Fact]
    public async Task A_browser_reads_the_cues_with_their_times_and_words()
    {
        await using IBrowserContext context = await fixture.Browser.NewContextAsync();
        IPage page = await context.NewPageAsync();
        await page.SetContentAsync($"<video><track default src=\"data:text/vtt;base64,{Convert.ToBase64String(Encoding.UTF8.GetBytes(Text))}\"></video>");
        await page.WaitForFunctionAsync("document.querySelector('track').readyState === 2");
        JsonElement cues = await page.EvaluateAsync<JsonElement>(
            "[...document.querySelector('track').track.cues].map(c => [c.id, c.startTime, c.endTime, c.getCueAsHTML().textContent])");
        Assert.Equal(
            """[["1",0,30.5,"run-again: The air failed, \u0022badly\u0022 --\u003E \u003Chere\u003E \u0026 there. Second line."],["2",3540,3541,"run-again: A mark."]]""",
            JsonSerializer.Serialize(cues));
    }

    [Fact]
    public async Task A_program_of_another_house_reads_them_as_well()
    {
        string file = Path.GetTempFileName();
        try
        {
            await File.WriteAllTextAsync(file, Text);
            using Process process = Process.Start(new ProcessStartInfo(
                "/usr/bin/python3", ["-c", "import json, sys, webvtt; print(json.dumps([[c.identifier, c.start, c.end, c.raw_text] for c in webvtt.read(sys.argv[1])]))", file])
            {
                UseShellExecute = false,
                RedirectStandardOutput = true,
                RedirectStandardError = true,
            })!;
            Task<string> error = process.StandardError.ReadToEndAsync();
            string said = await process.StandardOutput.ReadToEndAsync();
            await process.WaitForExitAsync();
            Assert.True(process.ExitCode == 0, await error + " (it needs Debian's python3-webvtt)");
            JsonElement cues = JsonDocument.Parse(said).RootElement;
            Assert.Equal(2, cues.GetArrayLength());
            Assert.Equal(
                ["1", "00:00:00.000", "00:00:30.500", "run-again: The air failed, \"badly\" --&gt; &lt;here&gt; &amp; there. Second line."],
                cues[0].EnumerateArray().Select(c => c.GetString()));
            Assert.Equal("00:59:01.000", cues[1][2].GetString());
        }
        finally
        {
            File.Delete(file);
        }
    }
}
