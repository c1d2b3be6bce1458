using System.Diagnostics;
using DriftWatch.Cli;
using DriftWatch.Tests.Recordings;

namespace DriftWatch.Tests.Cli;

/// <summary>Runs the script in a real bash, with the built program behind it.</summary>
public sealed class CompletionTests : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Bash_completes_verbs_options_and_values_and_leaves_file_names_to_itself()
    {
        if (!File.Exists("/bin/bash"))
        {
            return; // no bash on this platform: nothing to complete in
        }

        (int code, string script, _) = await CommandLineTests.RunAsync("completion", "bash");
        Assert.Equal(ExitCode.Done, code);
        string program = Path.Combine(AppContext.BaseDirectory, "driftwatch.dll");
        string test = $$"""
            driftwatch() { dotnet '{{program}}' "$@"; }
            source '{{_folder.Write("completion.bash", script)}}'
            try() {
                COMP_LINE="$1"; COMP_POINT=${#COMP_LINE}
                read -ra COMP_WORDS <<< "$COMP_LINE"
                [[ "$COMP_LINE" == *" " ]] && COMP_WORDS+=("")
                COMP_CWORD=$(( ${#COMP_WORDS[@]} - 1 ))
                _driftwatch
                echo "$1=>${COMPREPLY[*]}"
            }
            try "driftwatch exp"
            try "driftwatch completion "
            try "driftwatch completion b"
            try "driftwatch export --fr"
            try "driftwatch export x.csv --format pa"
            try "driftwatch plot nig"
            complete -p driftwatch
            """;
        var start = new ProcessStartInfo("/bin/bash") { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        start.ArgumentList.Add("--norc");
        start.ArgumentList.Add(_folder.Write("test.bash", test.ReplaceLineEndings("\n") + "\n"));
        using Process bash = Process.Start(start)!;
        string output = await bash.StandardOutput.ReadToEndAsync();
        string error = await bash.StandardError.ReadToEndAsync();
        await bash.WaitForExitAsync();
        Assert.True(error.Length == 0, error);
        Assert.Equal(
            [
                "driftwatch exp=>export",
                "driftwatch completion =>bash fish pwsh zsh",
                "driftwatch completion b=>bash",
                "driftwatch export --fr=>--from",
                "driftwatch export x.csv --format pa=>parquet",
                "driftwatch plot nig=>",
                "complete -o bashdefault -o default -F _driftwatch driftwatch",
            ],
            output.TrimEnd().Split('\n'));
    }

    [Theory]
    [InlineData("bash", "complete -o default")]
    [InlineData("zsh", "#compdef driftwatch")]
    [InlineData("fish", "complete --command driftwatch")]
    [InlineData("pwsh", "Register-ArgumentCompleter -Native -CommandName driftwatch")]
    public async Task Each_shell_gets_its_script_with_unix_line_ends(string shell, string holds)
    {
        (int code, string script, _) = await CommandLineTests.RunAsync("completion", shell);
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains(holds, script, StringComparison.Ordinal);
        Assert.DoesNotContain('\r', script);
    }
}
