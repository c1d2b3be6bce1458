using DriftWatch.Cli;
using DriftWatch.Configuration;
using DriftWatch.Web.Access;
using Xunit;

namespace DriftWatch.Tests.Web.Access;

/// <summary>The access file: what is read, every mistake at once, and the commands that write and check it.</summary>
public sealed class AccessFileTests : IDisposable
{
    private const string Hash = "pbkdf2-sha256$100000$AAECAwQFBgcICQoLDA0ODw==$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=";
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-access-").FullName;

    private string FilePath => Path.Combine(_folder, "access.toml");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public void Everything_that_can_stand_there_is_read()
    {
        AccessSettings settings = Load($"""
            [[person]]
            name = "Ida Wren"
            role = "operator"
            token-id = "k7f3q2m9"
            token-hash = "{Hash}"

            [proxy]
            trusted = ["10.0.0.5", "fd00::/8"]
            name-header = "X-Signed-In"
            role-header = "X-Role"

            [session]
            idle = "10 min"
            longest = "8 h"
            """).Settings!;
        PersonEntry ida = Assert.Single(settings.People);
        Assert.Equal(("Ida Wren", AccessRole.Operator, "k7f3q2m9", Hash), (ida.Name, ida.Role, ida.TokenId, ida.Hash.ToString()));
        Assert.True(settings.Proxy!.Trusts(System.Net.IPAddress.Parse("10.0.0.5")));
        Assert.True(settings.Proxy.Trusts(System.Net.IPAddress.Parse("fd12::1")));
        Assert.False(settings.Proxy.Trusts(System.Net.IPAddress.Parse("10.0.0.6")));
        Assert.Equal((TimeSpan.FromMinutes(10), TimeSpan.FromHours(8)), (settings.Session.Idle, settings.Session.Longest));
    }

    [Fact]
    public void Every_mistake_is_named_at_once_with_its_place_and_remedy()
    {
        string token = Tokens.Make().Token;
        string[] said = [.. Load($"""
            [[person]]
            name = "Ida Wren"
            role = "boss"
            token-id = "k7f3q2m9"
            token-hash = "{token}"
            [[person]]
            name = "ida wren"
            role = "reader"
            token-id = "k7f3q2m9"
            token-hash = "{Hash}"
            pasword = "x"
            [proxy]
            trusted = ["bench", "10.0.0.5/33"]
            name-header = "X Signed In"
            [session]
            idle = "10 h"
            longest = "2 h"
            """).Mistakes.Select(m => m.ToString())];
        Assert.All((string[])[
            "(3,8): 'role' can't be \"boss\"", "(5,14): 'token-hash' is not what", "(7,8): 'name' \"ida wren\" stands already in line 2",
            "(9,12): 'token-id' \"k7f3q2m9\" stands already in line 4", "(11,1): [[person]] has no key 'pasword'", "\"bench\" is neither",
            "\"10.0.0.5/33\" is neither", "(14,15): \"X Signed In\" is no name of a header", "write idle not above longest",
        ], due => Assert.Contains(said, line => line.Contains(due, StringComparison.Ordinal)));
        Assert.Equal(9, said.Length);
        Assert.All(said, line => Assert.Contains("; ", line, StringComparison.Ordinal));
        Assert.DoesNotContain(said, line => line.Contains(token, StringComparison.Ordinal));
    }

    [Fact]
    public void A_file_that_others_may_read_is_refused_with_the_remedy()
    {
        if (OperatingSystem.IsWindows())
        {
            return; // no such modes there
        }

        Load("", UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead);
        FileMistake mistake = AccessFile.Load(FilePath, mayLetNobodyIn: true).Mistakes.Single();
        Assert.Equal($"chmod 600 {FilePath}", mistake.Remedy);
    }

    [Theory]
    [InlineData("")]
    [InlineData("[proxy]\ntrusted = [\"10.0.0.5\"]")]
    public void A_file_by_which_nobody_can_sign_in_is_a_mistake(string text) =>
        Assert.Contains("nobody can sign in", Assert.Single(Load(text).Mistakes).What, StringComparison.Ordinal);

    [Fact]
    public void A_file_that_is_not_there_is_said() =>
        Assert.Contains("can't be read", Assert.Single(AccessFile.Load(FilePath).Mistakes).What, StringComparison.Ordinal);

    [Fact]
    public async Task The_command_makes_a_file_for_its_owner_only_and_prints_a_token_that_is_kept_nowhere()
    {
        (int code, string output, string error) = await RunAsync("access", "add", "Ida \"the\" Wren", "--role", "operator", "--file", FilePath);
        Assert.Equal(ExitCode.Done, code);
        string token = output.Trim();
        string text = await File.ReadAllTextAsync(FilePath);
        Assert.DoesNotContain(token, text, StringComparison.Ordinal);
        Assert.DoesNotContain(token, error, StringComparison.Ordinal);
        if (!OperatingSystem.IsWindows())
        {
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(FilePath));
        }

        PersonEntry ida = Assert.Single(AccessFile.Load(FilePath).Settings!.People);
        Assert.Equal("Ida \"the\" Wren", ida.Name);
        Assert.True(ida.Hash.Fits(token));

        await File.AppendAllTextAsync(FilePath, "\n# a remark of a person\n[session]\nidle = \"1 h\"");
        Assert.Equal(ExitCode.Done, (await RunAsync("access", "add", "Ben Moor", "--role", "reader", "--file", FilePath)).Code);
        Assert.Equal(["Ida \"the\" Wren", "Ben Moor"], AccessFile.Load(FilePath).Settings!.People.Select(p => p.Name));
        Assert.Contains("# a remark of a person", await File.ReadAllTextAsync(FilePath), StringComparison.Ordinal);

        (code, _, error) = await RunAsync("access", "add", "ben moor", "--role", "operator", "--file", FilePath);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("already", error, StringComparison.Ordinal);

        (code, output, _) = await RunAsync("access", "check", FilePath);
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("Ben Moor: reader, by a token", output, StringComparison.Ordinal);
        Assert.Contains("1 h without use and 12 h at most", output, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_token_that_is_over_is_named_with_its_place_and_remedy()
    {
        Assert.Equal(ExitCode.Done, (await RunAsync("access", "add", "Ben Moor", "--role", "reader", "--file", FilePath, "--until", "2026-01-31")).Code);
        AccessSettings settings = AccessFile.Load(FilePath).Settings!;
        Assert.Single(settings.PeopleOn(new DateOnly(2026, 1, 31)));
        Assert.Empty(settings.PeopleOn(new DateOnly(2026, 2, 1)));
        int line = (await File.ReadAllLinesAsync(FilePath)).ToList().FindIndex(l => l.StartsWith("until", StringComparison.Ordinal)) + 1;
        (int code, string output, _) = await RunAsync("access", "check", FilePath);
        Assert.Equal(ExitCode.NotSound, code);
        Assert.Contains($"{FilePath}({line},", output, StringComparison.Ordinal);
        Assert.Contains("'until'", output, StringComparison.Ordinal);
        Assert.Contains("run 'driftwatch access add' for a new token", output, StringComparison.Ordinal);
        string[] wrong = [.. Load($"[[person]]\nname = \"Ida\"\nrole = \"reader\"\ntoken-id = \"k7f3q2m9\"\ntoken-hash = \"{Hash}\"\nuntil = \"2026-13-01\"").Mistakes.Select(m => m.ToString())];
        Assert.Contains("(6,9): 'until' is \"2026-13-01\", which is no day", Assert.Single(wrong), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Check_prints_the_mistakes_and_ends_with_1()
    {
        Load("[[person]]\nname = \"Ida\"");
        (int code, string output, _) = await RunAsync("access", "check", FilePath);
        Assert.Equal(ExitCode.NotSound, code);
        Assert.Contains($"{FilePath}(1,1): [[person]] 'Ida' lacks 'role'; write role = \"operator\"", output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("0.0.0.0:0")]
    [InlineData("[::]:0")]
    [InlineData("192.0.2.1:8077")]
    public async Task Watching_on_a_network_address_without_access_is_refused_with_the_remedy(string listen)
    {
        (int code, _, string error) = await RunAsync("watch", "any.toml", "--listen", listen);
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains("driftwatch access add", error, StringComparison.Ordinal);
        Assert.Contains("--access", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Watching_with_a_wrong_access_file_names_its_mistakes()
    {
        Load("[[person]]\nname = \"Ida\"");
        (int code, _, string error) = await RunAsync("watch", "any.toml", "--listen", "0.0.0.0:0", "--access", FilePath);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("lacks 'token-hash'", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_certificate_needs_its_key_and_a_key_its_rights()
    {
        Assert.Equal(ExitCode.Usage, (await RunAsync("watch", "any.toml", "--certificate", FilePath)).Code);
        Load("no key");
        (int code, _, string error) = await RunAsync("watch", "any.toml", "--certificate", FilePath, "--key", FilePath);
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("PEM", error, StringComparison.Ordinal);
    }

    private static async Task<(int Code, string Output, string Error)> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        int code = await CommandLineHost.RunAsync(arguments, output, error);
        return (code, output.ToString(), error.ToString());
    }

    private AccessFileResult Load(string text, UnixFileMode mode = UnixFileMode.UserRead | UnixFileMode.UserWrite)
    {
        File.WriteAllText(FilePath, text);
        if (!OperatingSystem.IsWindows())
        {
            File.SetUnixFileMode(FilePath, mode);
        }

        return AccessFile.Load(FilePath);
    }
}
