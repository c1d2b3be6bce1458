using DriftWatch.Cli;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Configuration;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>What 'driftwatch check' says of a mirror that will not work: at its line of the bench file, with what to do.</summary>
public sealed class MirrorCheckTests : IAsyncLifetime
{
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-check-").FullName;
    private readonly WebApplication _server = NewServer();
    private int _writes = 204;
    private string _counts = """{"status":"success","data":{"result":[]}}""";
    private string? _written;

    public Task InitializeAsync()
    {
        _server.MapPost("/api/v2/write", async (HttpRequest request) =>
        {
            await using var text = new System.IO.Compression.GZipStream(request.Body, System.IO.Compression.CompressionMode.Decompress);
            using var reader = new StreamReader(text);
            _written = await reader.ReadToEndAsync();
            return _writes == 204 ? Results.NoContent() : Results.Json(new { message = "unauthorized access" }, statusCode: _writes);
        });
        _server.MapGet("/api/v1/query", () => Results.Text(_counts));
        return _server.StartAsync();
    }

    public async Task DisposeAsync()
    {
        await _server.DisposeAsync();
        Directory.Delete(_folder, recursive: true);
    }

    [Fact]
    public async Task A_mirror_that_takes_a_line_and_counts_is_not_spoken_of()
    {
        (int code, string said) = await CheckAsync(_server.Urls.First());
        Assert.Equal(ExitCode.Done, code);
        Assert.DoesNotContain("mirror", said, StringComparison.Ordinal);
        Assert.StartsWith("driftwatch_check,bench=b tried=1i ", _written, StringComparison.Ordinal);
    }

    [Fact]
    public async Task One_that_is_not_there_refuses_the_key_or_can_t_count_is_told_at_its_line_with_what_to_do()
    {
        (int code, string said) = await CheckAsync("http://127.0.0.1:1");
        Assert.Equal(ExitCode.Done, code); // watching goes on without it
        Assert.Matches("bench.toml\\([0-9]+,1\\): .*mirror annex: .*refused.*look whether the server runs", said);

        _writes = 401;
        (_, said) = await CheckAsync(_server.Urls.First());
        Assert.Matches("mirror annex: .*unauthorized access.*look at the key and the user", said);

        (_writes, _counts) = (204, "<html>");
        (_, said) = await CheckAsync(_server.Urls.First());
        Assert.Matches("mirror annex: it takes lines and can't be asked for counts: .*look at counts of \\[\\[mirror\\]\\]", said);
    }

    private async Task<(int Code, string Said)> CheckAsync(string url)
    {
        string bench = Path.Combine(_folder, "bench.toml");
        await File.WriteAllTextAsync(bench, BenchText.Head + BenchText.Volts + $"\n[[mirror]]\nid = \"annex\"\nurl = \"{url}\"\ncounts = \"promql\"\n");
        (int code, string output, string error) = await CommandLineTests.RunAsync("check", bench);
        return (code, output + error);
    }

    private static WebApplication NewServer()
    {
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.WebHost.UseUrls("http://127.0.0.1:0");
        return builder.Build();
    }
}
