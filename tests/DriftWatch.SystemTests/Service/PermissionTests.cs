using System.Diagnostics;
using DriftWatch.SystemTests.Lines;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>
/// Ports, folders and files that belong to somebody else. The program runs without the two rights by which root overrides
/// owners and modes, so that it meets them as an ordinary user does.
/// </summary>
public sealed class PermissionTests(ITestOutputHelper output) : IDisposable
{
    private const int Done = 0;
    private const int Surroundings = 4;
    private const string Somebody = "65534";

    private static readonly string[] AsAnyUser = ["/usr/bin/setpriv", "--bounding-set=-dac_override,-dac_read_search"];

    private readonly EmitterBench _bench = EmitterBench.Create();

    public void Dispose() => _bench.Dispose();

    [Fact]
    public async Task A_port_of_somebody_else_is_named_with_the_remedy_and_read_once_it_may_be()
    {
        await _bench.PlugIn();
        string port = new FileInfo(_bench.PortPath).ResolveLinkTarget(returnFinalTarget: true)!.FullName;
        Run("chown", Somebody, port);
        Run("chmod", "600", port);

        (int code, string said) = await ServiceProcess.RunAsync(AsAnyUser, ["probe", _bench.BenchFile]);
        output.WriteLine(said);
        Assert.NotEqual(Done, code);
        Assert.Contains($"no permission to open port '{_bench.PortPath}'", said, StringComparison.Ordinal);
        Assert.Contains("dialout", said, StringComparison.Ordinal);

        string store = Path.Combine(_bench.Folder, "store");
        using ServiceProcess service = await ServiceProcess.WatchAsync(_bench.BenchFile, store, before: AsAnyUser);
        await Until(() => service.Said.Any(l => l.Contains("no permission to open port", StringComparison.Ordinal)), service);
        Assert.Empty(_bench.CommittedNow(store));
        Run("chmod", "666", port);
        await Until(() => _bench.CommittedNow(store).Count > 20, service);
        Assert.Equal(Done, (await service.StopAsync()).Code);
    }

    [Fact]
    public async Task A_store_folder_of_somebody_else_ends_the_start_with_a_word_about_rights()
    {
        string store = Directory.CreateDirectory(Path.Combine(_bench.Folder, "store")).FullName;
        Run("chown", Somebody, store);
        Run("chmod", "700", store);
        (int code, string said) = await ServiceProcess.RunAsync(AsAnyUser, ["watch", _bench.BenchFile, "--store", store, "--listen", "127.0.0.1:0"]);
        output.WriteLine(said);
        Assert.Equal(Surroundings, code);
        Assert.Contains(store, said, StringComparison.Ordinal);
        Assert.DoesNotContain("   at ", said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_bench_file_that_may_not_be_read_is_named_and_no_stack_is_shown()
    {
        Run("chown", Somebody, _bench.BenchFile);
        Run("chmod", "600", _bench.BenchFile);
        (int code, string said) = await ServiceProcess.RunAsync(AsAnyUser, ["check", _bench.BenchFile]);
        output.WriteLine(said);
        Assert.NotEqual(Done, code);
        Assert.Contains(_bench.BenchFile, said, StringComparison.Ordinal);
        Assert.DoesNotContain("   at ", said, StringComparison.Ordinal);
    }

    private static async Task Until(Func<bool> condition, ServiceProcess service)
    {
        for (int i = 0; i < 200; i++)
        {
            if (condition())
            {
                return;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
        }

        Assert.Fail("It did not happen within 20 s: " + string.Join('\n', service.Said));
    }

    private static void Run(string program, params string[] arguments)
    {
        using Process process = Process.Start(program, arguments);
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, $"{program} {string.Join(' ', arguments)} failed: this test needs root.");
    }
}
