using System.CommandLine;

namespace DriftWatch.Cli;

/// <summary>
/// <c>driftwatch completion SHELL</c>: prints the script that teaches a shell to complete verbs, options and their
/// values by asking the program itself, and file names where it knows nothing better.
/// </summary>
public static class CompletionCommand
{
    private const string Bash = """
        # DriftWatch completion for bash. Load it with: source <(driftwatch completion bash)
        _driftwatch() {
            local current="${COMP_WORDS[COMP_CWORD]}" line="${COMP_LINE:0:COMP_POINT}" word
            COMPREPLY=()
            # What stands before the first blank is the program as typed; the rest is for it to complete.
            [[ "$line" == *" "* ]] || return 0
            line="${line#* }"
            while IFS= read -r word; do
                [[ -n "$word" && "$word" == "$current"* ]] || continue
                # Options are offered once a dash is typed, so that file names are not buried under them.
                [[ "$word" == -* || "$word" == "/"* ]] && [[ "$current" != -* ]] && continue
                COMPREPLY+=("$word")
            done < <("${COMP_WORDS[0]}" "[suggest:${#line}]" "$line" 2>/dev/null)
        }
        complete -o default -o bashdefault -F _driftwatch driftwatch

        """;

    private const string Zsh = """
        #compdef driftwatch
        # DriftWatch completion for zsh. Put it as _driftwatch on your $fpath, or: source <(driftwatch completion zsh)
        _driftwatch() {
            local line="${BUFFER[1,CURSOR]}" current="${words[CURRENT]}"
            local -a all offered
            line="${line#* }"
            all=("${(@f)$(${words[1]} "[suggest:${#line}]" "$line" 2>/dev/null)}")
            if [[ "$current" == -* ]]; then
                offered=("${(@M)all:#-*}")
            else
                offered=("${(@)all:#-*}")
            fi
            offered=("${(@M)offered:#$current*}")
            if (( ${#offered} )) && [[ -n "${offered[1]}" ]]; then
                compadd -- "${offered[@]}"
            else
                _files
            fi
        }
        compdef _driftwatch driftwatch

        """;

    private const string Fish = """
        # DriftWatch completion for fish. Load it with: driftwatch completion fish | source
        function __driftwatch_complete
            set -l line (commandline --cut-at-cursor | string replace -r '^\S+\s' '')
            set -l current (commandline --current-token --cut-at-cursor)
            for word in (driftwatch "[suggest:"(string length -- "$line")"]" "$line" 2>/dev/null)
                if string match -q -- '-*' $word; and not string match -q -- '-*' $current
                    continue
                end
                echo $word
            end
        end
        complete --command driftwatch --arguments '(__driftwatch_complete)'

        """;

    private const string PowerShell = """
        # DriftWatch completion for PowerShell. Load it with: driftwatch completion pwsh | Out-String | Invoke-Expression
        Register-ArgumentCompleter -Native -CommandName driftwatch -ScriptBlock {
            param($wordToComplete, $commandAst, $cursorPosition)
            $typed = $commandAst.ToString().PadRight($cursorPosition).Substring(0, $cursorPosition)
            $line = $typed -replace '^\S+\s', ''
            driftwatch "[suggest:$($line.Length)]" "$line" 2>$null |
                Where-Object { $_ -like "$wordToComplete*" -and (($_ -notlike '-*') -or ($wordToComplete -like '-*')) } |
                ForEach-Object { [System.Management.Automation.CompletionResult]::new($_, $_, 'ParameterValue', $_) }
        }

        """;

    private static readonly Dictionary<string, string> Scripts = new(StringComparer.Ordinal)
    {
        ["bash"] = Bash,
        ["zsh"] = Zsh,
        ["fish"] = Fish,
        ["pwsh"] = PowerShell,
    };

    public static Command Create()
    {
        var shell = new Argument<string>("SHELL")
        {
            Description = "The shell to write for: bash, zsh, fish or pwsh (PowerShell).",
        };
        shell.AcceptOnlyFromAmong([.. Scripts.Keys]);
        var command = new Command(
            "completion",
            "Prints a script that lets your shell complete DriftWatch's verbs, options and file names when you press Tab. "
            + "It asks the program itself, so it never needs to be renewed.")
        {
            shell,
        };
        command.SetAction(parsed =>
        {
            parsed.InvocationConfiguration.Output.Write(Scripts[parsed.GetRequiredValue(shell)].ReplaceLineEndings("\n"));
            return ExitCode.Done;
        });
        return command.WithHelp(
            notSound: null,
            new HelpExample("source <(driftwatch completion bash)", "turns completion on in this bash; put the line into ~/.bashrc to keep it"),
            new HelpExample("driftwatch completion fish > ~/.config/fish/completions/driftwatch.fish", "turns it on in fish, for good"));
    }
}
