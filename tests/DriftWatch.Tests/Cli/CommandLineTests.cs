using System.CommandLine;
using DriftWatch.Acquisition.Recordings;
using DriftWatch.Cli;
using DriftWatch.Storage;
using DriftWatch.Tests.Recordings;

namespace DriftWatch.Tests.Cli;

public sealed class CommandLineTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public static TheoryData<string> Verbs => [.. DriftWatchCommand.Create().Subcommands.Select(c => c.Name)];

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("exprt", "export")]
    [InlineData("export a --otu x.csv", "--out")]
    [InlineData("", "Required command")]
    [InlineData("plot", "SOURCE")]
    [InlineData("plot a", "--out")]
    [InlineData("plot a --out b.png --width wide", "'wide' after --width is not possible; write a whole number from 600 to 8000")]
    [InlineData("plot a --out b.png --width 5", "'5' after --width is not possible")]
    [InlineData("export a --out b.csv --from yesterday", "'yesterday' after --from is no time; write it in UTC as 2026-03-01T21:00:00Z or 2026-03-01")]
    [InlineData("export a --out b.csv --decimals NaN", "'NaN' after --decimals is not possible")]
    [InlineData("export a --out b.csv --format xml", "xml")]
    [InlineData("completion tcsh", "tcsh")]
    public async Task A_wrong_command_line_returns_2_and_says_what_is_wrong(string line, string says)
    {
        (int code, string output, string error) = await RunAsync(line.Split(' ', StringSplitOptions.RemoveEmptyEntries));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Contains("--help' tells how it is used.", error, StringComparison.Ordinal);
        Assert.Empty(output);
    }

    [Theory]
    [MemberData(nameof(Verbs))]
    public async Task Every_verb_explains_itself_with_its_exit_codes(string verb)
    {
        (int code, string output, string error) = await RunAsync(verb, "--help");
        Assert.Equal(ExitCode.Done, code);
        Assert.Empty(error);
        Assert.Contains("Exit codes:\n    0  done\n", output.ReplaceLineEndings("\n"), StringComparison.Ordinal);
        Assert.Contains("    2  the command line is wrong", output, StringComparison.Ordinal);
        Assert.Contains("   70  a fault of DriftWatch itself", output, StringComparison.Ordinal);
        Assert.All(output.Split('\n'), text => Assert.True(text.Length <= 220, text));
    }

    [Theory]
    [InlineData("export")]
    [InlineData("import")]
    [InlineData("plot")]
    [InlineData("completion")]
    public async Task These_verbs_give_examples_that_parse(string verb)
    {
        (_, string output, _) = await RunAsync(verb, "--help");
        string[] lines = output.ReplaceLineEndings("\n").Split('\n');
        int at = Array.IndexOf(lines, "Examples:");
        Assert.True(at > 0);
        int checkedLines = 0;
        for (int i = at + 1; lines[i].Length > 0; i += 2)
        {
            // Shell syntax around the command (redirections, process substitution, several commands) is not ours to parse.
            foreach (string part in lines[i].Trim().Split("&&", StringSplitOptions.TrimEntries))
            {
                string command = part.Replace("source <(", "", StringComparison.Ordinal).Split(')', '>')[0].Trim();
                ParseResult parsed = DriftWatchCommand.Create().Parse(command.Split(' ')[1..]);
                Assert.True(parsed.Errors.Count == 0, $"{command}: {string.Join(" ", parsed.Errors)}");
                checkedLines++;
            }
        }

        Assert.True(checkedLines >= 2);
    }

    [Theory]
    [InlineData("export {missing}.csv --out {x}.csv", ExitCode.BadInput, "there is no such file or folder; check the path")]
    [InlineData("plot {missing} --out {x}.png", ExitCode.BadInput, "there is no such file or folder; check the path")]
    [InlineData("plot {missing} --out {x}.bmp", ExitCode.Usage, "tells no kind of picture; write NAME.png or NAME.svg")]
    [InlineData("plot {folder} --out {x}.png", ExitCode.BadInput, "this folder holds no DriftWatch store")]
    [InlineData("plot {csv} --out {x}.png", ExitCode.BadInput, "a plain recording needs one, name it with --bench")]
    [InlineData("plot {csv} --out {x}.png --zone Mars/Olympus", ExitCode.Usage, "is no time zone this machine knows")]
    [InlineData("import {missing}.csv --store {x}", ExitCode.BadInput, "there is no such file; check the path")]
    [InlineData("export {csv} --out {x}.txt", ExitCode.Usage, "tells no format; add --format csv, parquet, log or findings")]
    public async Task Trouble_ends_in_one_line_and_a_documented_code(string line, int expected, string says)
    {
        string csv = _folder.Write("a.csv", "time,air\n2026-03-01T21:00:00Z,1\n");
        string filled = line.Replace("{missing}", _folder.PathOf("nothing"), StringComparison.Ordinal)
            .Replace("{folder}", _folder.Folder, StringComparison.Ordinal)
            .Replace("{csv}", csv, StringComparison.Ordinal)
            .Replace("{x}", _folder.PathOf("x"), StringComparison.Ordinal);
        (int code, _, string error) = await RunAsync(filled.Split(' '));
        Assert.Equal(expected, code);
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Single(error.TrimEnd().Split('\n'));
        Assert.Equal([csv], Directory.GetFiles(_folder.Folder));
    }

    [Fact]
    public void Every_kind_of_trouble_has_its_code()
    {
        (Exception Trouble, int Code)[] table =
        [
            (new RecordingException("f", 1, 2, "what", "remedy"), ExitCode.BadInput),
            (new FileNotFoundException("m", "f"), ExitCode.BadInput),
            (new DirectoryNotFoundException("m"), ExitCode.BadInput),
            (new StoreException(StoreTrouble.Damaged, "m"), ExitCode.BadInput),
            (new StoreException(StoreTrouble.NewerSchema, "m"), ExitCode.BadInput),
            (new StoreException(StoreTrouble.DiskFull, "m"), ExitCode.Environment),
            (new StoreException(StoreTrouble.InUse, "m"), ExitCode.Environment),
            (new UnauthorizedAccessException("m"), ExitCode.Environment),
            (new IOException("m"), ExitCode.Environment),
            (new OperationCanceledException(), ExitCode.Stopped),
            (new AggregateException(new IOException("m")), ExitCode.Environment),
            (new InvalidOperationException("two\nlines"), ExitCode.Internal),
            (new NullReferenceException(), ExitCode.Internal),
        ];
        foreach ((Exception trouble, int code) in table)
        {
            (int given, string line) = CommandLineHost.Explain(trouble);
            Assert.True(code == given, $"{trouble.GetType().Name}: {given}");
            Assert.DoesNotContain('\n', line);
        }
    }

    internal static async Task<(int Code, string Output, string Error)> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        int code = await CommandLineHost.RunAsync(arguments, output, error);
        return (code, output.ToString(), error.ToString());
    }
}
