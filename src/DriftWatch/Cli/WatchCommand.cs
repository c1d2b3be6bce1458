using System.CommandLine;
using System.Net.Sockets;
using DriftWatch.Configuration;
using DriftWatch.Notices.Alive;
using DriftWatch.Running;
using DriftWatch.Web;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Connections;
using Microsoft.Extensions.Hosting.Systemd;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch watch</c>: runs the service until it is told to stop.</summary>
internal static class WatchCommand
{
    internal const int DefaultPort = 8077;

    public static Command Create()
    {
        var benches = new Argument<FileInfo[]>("BENCH")
        {
            Description = "One bench file, or several: each gets a judge and a store folder of its own.",
            Arity = ArgumentArity.OneOrMore,
        };
        var store = new Option<DirectoryInfo>("--store")
        {
            Description = "Folder under which each bench has its own folder. Default: $STATE_DIRECTORY, else ./driftwatch-data.",
        };
        Option<string[]> profiles = SourceArguments.Profiles();
        var address = new Option<string>("--listen")
        {
            Description = "Address of the page and the API, as ADDRESS:PORT; port 0 takes a free one. Loopback unless you say otherwise.",
            DefaultValueFactory = _ => $"127.0.0.1:{DefaultPort}",
        };
        var hosts = new Option<string[]>("--allow-host")
        {
            Description = "A host name under which browsers may ask for the page besides the loopback names; may be given more than once.",
        };
        var access = new Option<FileInfo>("--access")
        {
            Description = "File of who may come in from the network ('driftwatch access' makes it). Needed unless it listens on loopback only.",
        };
        var certificate = new Option<FileInfo>("--certificate") { Description = "The service's own certificate (PEM, with what leads to its issuer below it), for TLS without a proxy." };
        var key = new Option<FileInfo>("--key") { Description = "The certificate's private key (PEM), readable by its owner only." };
        var command = new System.CommandLine.Command(
            "watch",
            "Runs the service: samples every instrument of the bench, keeps every reading, judges it, and shows it on a page. "
            + "SIGTERM or Ctrl+C stops it within 3 seconds with everything stored. It is no safety interlock and drives nothing on the machine.")
        {
            benches, store, address, hosts, access, certificate, key, profiles,
        };
        command.SetAction((parse, cancel) => RunAsync(
            parse.GetRequiredValue(benches), parse.GetValue(store),
            new WatchDoor(parse.GetRequiredValue(address), parse.GetValue(hosts) ?? [], parse.GetValue(access), parse.GetValue(certificate), parse.GetValue(key)),
            SourceArguments.FoldersOf(parse.GetValue(profiles)), cancel));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch watch device-profiles/practice-rig/bench.toml", "the practice bench: a simulated machine, no hardware"),
            new HelpExample("driftwatch watch annex.toml --store /var/lib/driftwatch", "one's own bench, its readings under a folder of one's choice"),
            new HelpExample("driftwatch watch a.toml b.toml --listen 0.0.0.0:8077 --allow-host bench-pc --access access.toml --certificate bench-pc.pem --key bench-pc.key", "two machines, the page open to those of the access file under https://bench-pc:8077"));
    }

    private static async Task<int> RunAsync(
        FileInfo[] benchFiles, DirectoryInfo? store, WatchDoor door, IReadOnlyList<string> profileFolders, CancellationToken cancel)
    {
        string listen = door.Listen;
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        bool isClear = door.Open(builder);
        builder.Services.AddSystemd();
        builder.Services.Configure<HostOptions>(options => options.ShutdownTimeout = TimeSpan.FromMilliseconds(800));
        builder.Logging.ClearProviders();
        builder.Logging.AddFilter("Microsoft", LogLevel.Warning);
        if (SystemdHelpers.IsSystemdService() || Console.IsOutputRedirected)
        {
            builder.Logging.AddJsonConsole(options => options.TimestampFormat = "yyyy-MM-dd'T'HH:mm:ss.fff'Z'");
            builder.Services.Configure<Microsoft.Extensions.Logging.Console.JsonConsoleFormatterOptions>(o => o.UseUtcTimestamp = true);
        }
        else
        {
            builder.Logging.AddSimpleConsole(options =>
            {
                options.SingleLine = true;
                options.TimestampFormat = "HH:mm:ss ";
            });
        }

        builder.AddDriftWatchWeb(new WebSettings { AllowedHosts = door.Hosts, AccessFile = door.Access?.ToString() });
        await using WebApplication app = builder.Build();
        ILoggerFactory loggers = app.Services.GetRequiredService<ILoggerFactory>();
        var running = new List<RunningBench>();
        try
        {
            string folder = store?.FullName ?? Environment.GetEnvironmentVariable("STATE_DIRECTORY") ?? "driftwatch-data";
            int failures = 0;
            foreach (FileInfo file in benchFiles)
            {
                RunningBench bench = StartOne(file, folder, profileFolders, running, loggers);
                bench.Failed = () =>
                {
                    Interlocked.Increment(ref failures);
                    app.Lifetime.StopApplication();
                };
                running.Add(bench);
            }

            app.MapDriftWatch([.. running]);
            await app.StartAsync(cancel);
            if (isClear)
            {
                AccessLog.InTheClear(loggers.CreateLogger(AccessLog.Category), listen);
            }

            await using ServiceWatchdog? watchdog = ServiceWatchdog.Start(
                () => running.Select(b => b.WhyNotJudging()).FirstOrDefault(w => w is not null), TimeProvider.System, loggers.CreateLogger("DriftWatch.Notices"));
            foreach (string url in app.Urls)
            {
                Console.WriteLine($"DriftWatch watches {string.Join(", ", running.Select(b => b.Bench.Label))}. The page is at {url} — stop with Ctrl+C.");
            }

            await app.WaitForShutdownAsync(cancel);
            return failures == 0 ? ExitCode.Done : ExitCode.Internal;
        }
        catch (BenchRefusedException refused)
        {
            throw new CommandException(ExitCode.BadInput, refused.Message);
        }
        catch (IOException refused) when (refused.InnerException is AddressInUseException or SocketException)
        {
            throw new CommandException(
                ExitCode.Environment, $"--listen {listen}: {refused.Message} Is another DriftWatch running? Choose another port, or 0 for a free one");
        }
        catch (SocketException refused)
        {
            throw new CommandException(ExitCode.Environment, $"--listen {listen}: {refused.Message}; choose an address of this machine");
        }
        finally
        {
            await Task.WhenAll(running.Select(b => b.DisposeAsync().AsTask()));
        }
    }

    private static RunningBench StartOne(
        FileInfo file, string folder, IReadOnlyList<string> profileFolders, List<RunningBench> others, ILoggerFactory loggers)
    {
        BenchFileResult result = BenchFile.Load(file.FullName, profileFolders, keys: null);
        string id = result.Bench?.Definition.Id ?? throw new BenchRefusedException(result.Mistakes);
        if (others.Exists(other => other.Bench.Id == id))
        {
            throw new CommandException(
                ExitCode.BadInput, $"{file}: a bench '{id}' was named before; give each bench file an id of its own");
        }

        return RunningBench.Start(
            new RunningBenchOptions
            {
                BenchPath = file.FullName,
                StoreFolder = Path.Combine(folder, id),
                ProfileFolders = profileFolders,
            },
            loggers);
    }
}
