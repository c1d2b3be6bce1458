using System.CommandLine;
using System.Globalization;
using System.Text;
using DriftWatch.Configuration;
using DriftWatch.Web.Access;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch access</c>: who may see and act from the network.</summary>
internal static class AccessCommand
{
    private const int LongestName = 80;

    private const string Heading = """
        # Who may see DriftWatch's page from the network, and who may act there: driftwatch watch BENCH --listen ADDRESS:PORT --access THIS-FILE
        # To take a token away, delete its [[person]]: its sign-ins end within two seconds. No token stands here, only what it can be checked by.
        """;

    public static Command Create()
    {
        var command = new Command("access", "Who may see the page and the API from the network, and who may act there.");
        command.Subcommands.Add(CreateAdd());
        command.Subcommands.Add(CreateCheck());
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch access add \"Ida Wren\" --role operator --file access.toml", "makes a token and prints it once"),
            new HelpExample("driftwatch access check access.toml", "every mistake of the file, or who may come in"));
    }

    private static Command CreateAdd()
    {
        var name = new Argument<string>("NAME") { Description = "The person's name, as it will sign what he does." };
        var role = new Option<string>("--role") { Description = "reader: sees everything; operator: acts as well.", Required = true };
        role.AcceptOnlyFromAmong("reader", "operator");
        var file = new Option<FileInfo>("--file") { Description = "The access file; it is made, for its owner only, if it is not there.", Required = true };
        var until = new Option<DateOnly?>("--until") { Description = "The last day (UTC) on which the token lets in, such as 2027-03-01. Without it the token holds until it is taken away." };
        var command = new Command(
            "add",
            "Makes a token for a person, prints it once and keeps only its salted hash in the file. A running service takes it up within two seconds.")
        {
            name, role, file, until,
        };
        command.SetAction(parsed =>
        {
            parsed.InvocationConfiguration.Output.WriteLine(
                Add(parsed.GetRequiredValue(file).FullName, parsed.GetRequiredValue(name).Trim(), parsed.GetRequiredValue(role), parsed.GetValue(until)));
            parsed.InvocationConfiguration.Error.WriteLine(
                "This is the token; it is shown this once and kept nowhere. Give it to the person on a way that nobody reads along.");
            return ExitCode.Done;
        });
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch access add \"Ida Wren\" --role operator --file access.toml", "somebody who acts"),
            new HelpExample("driftwatch access add \"wall display\" --role reader --file access.toml", "something that only shows"));
    }

    private static Command CreateCheck()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "The access file (TOML)." };
        var command = new Command("check", "Prints every mistake of an access file at once as file(line,col): what; remedy; or who may come in by it.") { file };
        command.SetAction(parsed =>
        {
            TextWriter output = parsed.InvocationConfiguration.Output;
            AccessFileResult result = AccessFile.Load(parsed.GetRequiredValue(file).ToString());
            foreach (FileMistake mistake in result.Mistakes)
            {
                output.WriteLine(mistake);
            }

            if (result.Settings is not { } settings)
            {
                return ExitCode.NotSound;
            }

            TokenEnd[] over = [.. settings.OverOn(DateOnly.FromDateTime(TimeProvider.System.GetUtcNow().UtcDateTime))];
            foreach (TokenEnd end in over)
            {
                output.WriteLine(end.Over);
            }

            Write(settings, output);
            return over.Length == 0 ? ExitCode.Done : ExitCode.NotSound;
        });
        return command.WithHelp(
            notSound: "the access file has mistakes, or tokens that are over; each was printed",
            new HelpExample("driftwatch access check access.toml", "every mistake of the file, or who may come in"));
    }

    private static string Add(string path, string name, string role, DateOnly? until)
    {
        if (name.Length is 0 or > LongestName || name.Any(char.IsControl))
        {
            throw new CommandException(ExitCode.Usage, $"NAME must have 1 to {LongestName} characters and no control characters");
        }

        string before = "";
        if (File.Exists(path))
        {
            AccessFileResult result = AccessFile.Load(path, mayLetNobodyIn: true);
            AccessSettings known = result.Settings ?? throw new CommandException(ExitCode.BadInput, string.Join(Environment.NewLine, result.Mistakes));
            if (known.People.Any(p => string.Equals(p.Name, name, StringComparison.OrdinalIgnoreCase)))
            {
                throw new CommandException(ExitCode.BadInput, $"{path} has a token of '{name}' already; delete that [[person]] first, which takes the old token away");
            }

            before = File.ReadAllText(path).TrimEnd();
        }

        (string id, string token) = Tokens.Make();
        Keep(path, $"""
            {(before.Length > 0 ? before : Heading)}

            [[person]]
            name = {Quoted(name)}
            role = "{role}"
            token-id = "{id}"
            token-hash = "{TokenHash.Of(token)}"
            {(until is { } day ? $"until = \"{day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)}\"\n" : "")}
            """);
        return token;
    }

    /// <summary>Whole or not at all, and readable by its owner only from its first byte on.</summary>
    private static void Keep(string path, string text)
    {
        string beside = path + ".new";
        File.Delete(beside);
        var options = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write };
        if (!OperatingSystem.IsWindows())
        {
            options.UnixCreateMode = OwnerOnly.Mode;
        }

        using (var stream = new FileStream(beside, options))
        {
            stream.Write(Encoding.UTF8.GetBytes(text.ReplaceLineEndings("\n")));
            stream.Flush(flushToDisk: true);
        }

        File.Move(beside, path, overwrite: true);
    }

    /// <summary>A TOML text; control characters were refused.</summary>
    private static string Quoted(string text) =>
        $"\"{text.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("\"", "\\\"", StringComparison.Ordinal)}\"";

    private static void Write(AccessSettings settings, TextWriter output)
    {
        foreach (PersonEntry person in settings.People)
        {
            string until = settings.Ends.FirstOrDefault(end => end.TokenId == person.TokenId) is { } end
                ? $" until {end.LastDay.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)}" : "";
            output.WriteLine($"{person.Name}: {person.Role.Word()}, by a token{until}");
        }

        if (settings.Proxy is { } proxy)
        {
            string people = proxy.NameHeader is null ? "its people sign in with tokens"
                : $"it names its people in {proxy.NameHeader}, each a {(proxy.RoleHeader is null ? proxy.Role.Word() : $"what {proxy.RoleHeader} says, else {proxy.Role.Word()}")}";
            output.WriteLine($"proxy at {string.Join(", ", proxy.Trusted)}: {people}");
        }

        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"a sign-in holds {DurationText.Write(settings.Session.Idle)} without use and {DurationText.Write(settings.Session.Longest)} at most"));
    }
}
