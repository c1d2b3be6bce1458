using DriftWatch.Cli;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Storage;
using DriftWatch.Tests.Storage;
using Xunit;

namespace DriftWatch.Tests.Cli;

public sealed class BaselinesCommandTests : IDisposable
{
    private readonly StoreFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task The_list_is_numbered_with_who_stands_behind_each_and_what_was_wrong()
    {
        Fill(
            BaselineStoreTests.Make(5, 0, 50) with { Standing = BaselineStanding.Provisional },
            BaselineStoreTests.Make(9, 7, 50.25) with { Standing = BaselineStanding.Confirmed, By = "Ida", Transfer = "reel 7", Unwell = ["limit", "off-setpoint"] });
        await Transcript(
            ["baselines", _folder.Path],
            """
            #  taken (UTC)          standing     by         state   transfer  values  wrong meanwhile
            1  2026-03-01 20:00:00  provisional  automatic  locked  -         3       -
            2  2026-03-08 20:00:00  confirmed    Ida        locked  reel 7    3       limit, off-setpoint

            """);
    }

    [Fact]
    public async Task Two_are_compared_channel_by_channel()
    {
        TakenBaseline later = BaselineStoreTests.Make(9, 7, 50.25);
        Fill(
            BaselineStoreTests.Make(5, 0, 50),
            later with
            {
                BenchHash = "11ff",
                Values = [later.Values[0], later.Values[1] with { CalibrationVersion = 3 }, new BaselineValue("sync-level", "mV", 286, 1, 0, 29, 300, 1)],
            });
        await Transcript(
            ["baselines", _folder.Path, "--compare", "1", "2"],
            """
            1: 2026-03-01 20:00:00, stable, by automatic
            2: 2026-03-08 20:00:00, stable, by automatic
            The bench file was another one: channels may mean something else.

            channel        unit  1    2       difference  in standard errors  remark
            regulated-air  psi   50   50.25   +0.25       +11.0               
            rf-head-2      dB    -10  -10.21  -0.21       -5.3                calibration 2 then, 3 now
            sync-level     mV    -    286     -           -                   only in the later one
            rf-spread      dB    0.3  -       -           -                   only in the earlier one

            Standard errors are those of half a minute's noise; tapes differ by more than that on a sound machine.

            """);
    }

    [Fact]
    public async Task One_channel_is_followed_over_the_weeks()
    {
        Fill([.. Enumerable.Range(0, 12).Select(i => BaselineStoreTests.Make(5 + i, 7 * i, 50 + (i % 3 * 0.1)))]);
        (int code, string output, _) = await CommandLineTests.RunAsync("baselines", _folder.Path, "--channel", "rf-head-2");
        Assert.Equal(ExitCode.Done, code);
        string[] lines = output.ReplaceLineEndings("\n").Split('\n');
        Assert.Equal("#   taken (UTC)          standing  value   unit  standard error  calibration", lines[0]);
        Assert.Equal("12  2026-05-17 20:00:00  stable    -12.31  dB    0.028           2", lines[12]);
        Assert.Equal("Over 12 baselines in 77 days: -0.21 dB a week (-0.21 to -0.21, Theil-Sen, 95 %); by chance in 0.0 of cases (Mann-Kendall).", lines[14]);
    }

    [Fact]
    public async Task With_too_few_the_trend_says_how_many_it_needs()
    {
        Fill([.. Enumerable.Range(0, 4).Select(i => BaselineStoreTests.Make(5 + i, 7 * i, 50) with { Standing = i == 0 ? BaselineStanding.Provisional : BaselineStanding.Stable })]);
        (_, string output, _) = await CommandLineTests.RunAsync("baselines", _folder.Path, "--channel", "regulated-air");
        Assert.Contains("No trend can be told: not enough data: 3 of 4 baselines.", output, StringComparison.Ordinal);
        (_, output, _) = await CommandLineTests.RunAsync("baselines", _folder.Path, "--channel", "regulated-air", "--provisional");
        Assert.Contains("Over 4 baselines in 21 days: 0 psi a week", output, StringComparison.Ordinal);
        Assert.Contains("whether by chance can't be told: not enough data: 4 of 10 points", output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("--compare 1 3", ExitCode.Usage, "there is no baseline 3; the store holds 1 to 2")]
    [InlineData("--compare 2 2", ExitCode.Usage, "is the same baseline twice; name two")]
    [InlineData("--compare 1", ExitCode.Usage, "--compare")]
    [InlineData("--channel regulated-ari", ExitCode.Usage, "no baseline holds 'regulated-ari'; did you mean 'regulated-air'?")]
    [InlineData("--compare 1 2 --channel rf-head-2", ExitCode.Usage, "ask for different things")]
    [InlineData("--provisional", ExitCode.Usage, "--provisional belongs to --channel")]
    public async Task What_cannot_be_answered_is_said_with_the_way_out(string options, int code, string says)
    {
        Fill(BaselineStoreTests.Make(5, 0, 50), BaselineStoreTests.Make(9, 7, 50.25));
        (int actual, string output, string error) = await CommandLineTests.RunAsync(["baselines", _folder.Path, .. options.Split(' ')]);
        Assert.Equal(code, actual);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Empty(output);
    }

    [Fact]
    public async Task A_folder_without_a_store_and_a_store_without_a_baseline_are_told_apart()
    {
        (int code, _, string error) = await CommandLineTests.RunAsync("baselines", _folder.Path);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("holds no store", error, StringComparison.Ordinal);
        _folder.Open().Dispose();
        (code, _, error) = await CommandLineTests.RunAsync("baselines", _folder.Path);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("holds no baseline yet; take one on the page", error, StringComparison.Ordinal);
    }

    private static async Task Transcript(string[] arguments, string expected)
    {
        (int code, string output, string error) = await CommandLineTests.RunAsync(arguments);
        Assert.Empty(error);
        Assert.Equal(ExitCode.Done, code);
        Assert.Equal(expected.ReplaceLineEndings("\n"), output.ReplaceLineEndings("\n"));
    }

    private void Fill(params TakenBaseline[] baselines)
    {
        using BenchStore store = _folder.Open();
        store.CommitJudged(baselines[^1].Number, [1], "build", [.. baselines.Select(BaselineStoreTests.Line)]);
    }
}
