using System.CommandLine;
using DriftWatch.Storage;

namespace DriftWatch.Cli;

/// <summary><c>driftwatch backup</c>: a bench's store into another folder, while the service goes on.</summary>
internal static class BackupCommand
{
    public static Command Create()
    {
        var store = new Argument<string>("STORE")
        {
            Description = "A bench's store folder, as driftwatch-data/practice.",
        };
        var target = new Option<string>("--out")
        {
            Description = "The folder to copy into; made if it is missing. Files of an earlier backup there are replaced, each only by a proven copy.",
            HelpName = "FOLDER",
            Required = true,
        };
        var command = new Command(
            "backup",
            "Copies a bench's store into another folder as it is at this moment, while the service goes on sampling. Each file is checked "
            + "before it takes its name. The copy is a store like any other: export, plot and judge read it, and watch can go on from it.")
        {
            store, target,
        };
        command.SetAction((parsed, cancel) => RunAsync(
            parsed.GetRequiredValue(store), parsed.GetRequiredValue(target), parsed.InvocationConfiguration.Error, cancel));
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch backup driftwatch-data/practice --out /media/usb/practice", "a copy of the practice bench's store on another disk"));
    }

    private static async Task<int> RunAsync(string store, string target, TextWriter error, CancellationToken cancel)
    {
        string within = Path.GetRelativePath(store, target);
        if (within == "." || !(within == ".." || within.StartsWith(".." + Path.DirectorySeparatorChar, StringComparison.Ordinal) || Path.IsPathRooted(within)))
        {
            throw new CommandException(ExitCode.Usage, "--out is the store itself or lies within it; name a folder elsewhere, best on another disk");
        }

        _ = SourceArguments.StoreFolder(store);
        long bytes = await WorkProgress.RunAsync("copying", progress => Task.Run(() => Copy(store, target, progress, cancel), cancel));
        error.WriteLine($"Backed up {store} to {target}: {bytes:N0} bytes, every file checked.");
        return ExitCode.Done;
    }

    private static long Copy(string store, string target, IProgress<double>? progress, CancellationToken cancel)
    {
        var share = new Share(progress);
        StoreBackup.Run(store, target, share, cancel);
        return share.Total;
    }

    private sealed class Share(IProgress<double>? progress) : IProgress<BackupProgress>
    {
        public long Total { get; private set; }

        public void Report(BackupProgress value)
        {
            Total = value.TotalBytes;
            progress?.Report(value.TotalBytes == 0 ? 1 : (double)value.DoneBytes / value.TotalBytes);
        }
    }
}
