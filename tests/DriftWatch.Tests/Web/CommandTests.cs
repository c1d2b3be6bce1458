using System.Net;
using System.Text.Json;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

public sealed class CommandTests : IAsyncLifetime
{
    private const string Commands = "/api/v1/benches/practice/commands/";
    private readonly FakeBench _bench = new(TimeProvider.System);
    private ServedBench _served = null!;

    public async Task InitializeAsync()
    {
        _served = await ServedBench.StartAsync(new WebSettings(), _bench);
        _bench.Say(_bench.MakeFinding("f1", "air-below-setpoint", "regulated-air", "Air is low."));
    }

    public async Task DisposeAsync() => await _served.DisposeAsync();

    [Fact]
    public async Task An_act_enters_with_the_declared_name_and_is_answered_with_its_number()
    {
        JsonElement answer = await _served.PostAsync(Commands + "acknowledge", """{"by":" Ida Wren ","finding":"f1","note":"seen"}""");
        var command = Assert.IsType<AcknowledgeCommand>(Assert.Single(_bench.Entered));
        Assert.Equal(("Ida Wren", "declared", "f1", "seen"), (command.By, command.Identity, command.Finding, command.Note));
        Assert.Equal(7, command.Id.Version);
        Assert.Equal(1001, answer.GetProperty("input").GetInt64());
        Assert.Equal(command.Id, answer.GetProperty("id").GetGuid());
    }

    [Theory]
    [InlineData("shelve", """{"by":"Ida","note":"known","finding":"f1","forMinutes":30}""", typeof(ShelveCommand))]
    [InlineData("unshelve", """{"by":"Ida","finding":"f1"}""", typeof(UnshelveCommand))]
    [InlineData("out-of-service", """{"by":"Ida","note":"sensor at the bench","subject":"stale.regulated-air"}""", typeof(OutOfServiceCommand))]
    [InlineData("in-service", """{"by":"Ida","subject":"stale.regulated-air"}""", typeof(InServiceCommand))]
    [InlineData("baseline", """{"by":"Ida"}""", typeof(BaselineCommand))]
    [InlineData("mark", """{"by":"Ida","note":"splice"}""", typeof(MarkCommand))]
    [InlineData("pass-begins", """{"by":"Ida","transfer":"t-17"}""", typeof(PassBeginsCommand))]
    [InlineData("pass-ends", """{"by":"Ida","transfer":"t-17"}""", typeof(PassEndsCommand))]
    public async Task Every_act_becomes_its_command(string name, string body, Type expected)
    {
        await _served.PostAsync(Commands + name, body);
        Assert.IsType(expected, Assert.Single(_bench.Entered));
    }

    [Theory]
    [InlineData("mark", """{"note":"x"}""", "by")]
    [InlineData("mark", """{"by":"  ","note":"x"}""", "by")]
    [InlineData("mark", """{"by":"Ida\u0007","note":"x"}""", "by")]
    [InlineData("mark", """{"by":"Ida"}""", "note")]
    [InlineData("acknowledge", """{"by":"Ida"}""", "finding")]
    [InlineData("acknowledge", """{"by":"Ida","finding":"none"}""", "finding")]
    [InlineData("shelve", """{"by":"Ida","finding":"f1"}""", "forMinutes")]
    [InlineData("shelve", """{"by":"Ida","finding":"f1","forMinutes":1441}""", "forMinutes")]
    [InlineData("shelve", """{"by":"Ida","finding":"f1","forMinutes":"long"}""", "forMinutes")]
    [InlineData("shelve", """{"by":"Ida","finding":"f1","forMinutes":30}""", "note")]
    [InlineData("shelve", """{"by":"Ida","note":"x","alarm":"none","forMinutes":30}""", "alarm")]
    [InlineData("unshelve", """{"by":"Ida","alarm":"a","finding":"f1"}""", "alarm")]
    [InlineData("out-of-service", """{"by":"Ida","subject":"stale.regulated-air"}""", "note")]
    [InlineData("out-of-service", """{"by":"Ida","note":"x","subject":"nonsense"}""", "subject")]
    [InlineData("in-service", """{"by":"Ida"}""", "subject")]
    [InlineData("mark", """{"by":"Ida","note":"x","untilOver":true}""", "untilOver")]
    [InlineData("pass-begins", """{"by":"Ida"}""", "transfer")]
    [InlineData("baseline", """{"by":"Ida","finding":"f1"}""", "finding")]
    [InlineData("mark", """{"by":"Ida","note":"x","nots":"y"}""", "nots")]
    [InlineData("mark", "{", "body")]
    public async Task A_wrong_field_is_named_and_nothing_is_entered(string name, string body, string field)
    {
        JsonElement problem = await _served.PostAsync(Commands + name, body, HttpStatusCode.BadRequest);
        Assert.Equal(field, problem.GetProperty("parameter").GetString());
        Assert.NotEmpty(problem.GetProperty("remedy").GetString()!);
        Assert.Empty(_bench.Entered);
    }

    [Fact]
    public async Task An_unknown_command_is_answered_with_the_known_ones()
    {
        JsonElement problem = await _served.PostAsync(Commands + "start", """{"by":"Ida"}""", HttpStatusCode.NotFound);
        Assert.Contains("acknowledge", problem.GetProperty("remedy").GetString(), StringComparison.Ordinal);
    }

    /// <summary>The bench holds the act and stores it later: who is told to act again would have it twice.</summary>
    [Theory]
    [InlineData("mark")]
    [InlineData("reload")]
    public async Task A_store_that_refuses_is_said_and_not_taken_for_done(string command)
    {
        _bench.Refusal = new IOException("No space left on the device.");
        JsonElement problem = await _served.PostAsync(Commands + command, """{"by":"Ida","note":"x"}""", HttpStatusCode.ServiceUnavailable);
        Assert.Contains("No space left", problem.GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.Contains("Do not act again", problem.GetProperty("remedy").GetString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("mark")]
    [InlineData("reload")]
    public async Task A_bench_that_has_stopped_says_that_the_act_was_not_taken(string command)
    {
        _bench.Refusal = new DriftWatch.Running.WatchingStoppedException();
        JsonElement problem = await _served.PostAsync(Commands + command, """{"by":"Ida","note":"x"}""", HttpStatusCode.ServiceUnavailable);
        Assert.Contains("was not taken", problem.GetProperty("title").GetString(), StringComparison.Ordinal);
        Assert.Contains("then act again", problem.GetProperty("remedy").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_fault_of_ours_is_a_problem_without_inner_details()
    {
        _bench.Refusal = new InvalidOperationException("inner secret");
        JsonElement problem = await _served.PostAsync(Commands + "mark", """{"by":"Ida","note":"x"}""", HttpStatusCode.InternalServerError);
        Assert.Equal(500, problem.GetProperty("status").GetInt32());
        Assert.DoesNotContain("inner secret", problem.GetRawText(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_refused_bench_file_comes_back_with_every_mistake()
    {
        await _served.PostAsync(Commands + "reload", """{"by":"Ida"}""");
        _bench.ReloadMistakes = ["bench.toml(3,1): unknown key 'chanel'; write 'channel'", "bench.toml(9,2): no unit; add unit"];
        JsonElement problem = await _served.PostAsync(Commands + "reload", """{"by":"Ida"}""", HttpStatusCode.UnprocessableEntity);
        Assert.Equal(2, problem.GetProperty("mistakes").GetArrayLength());
    }
}
