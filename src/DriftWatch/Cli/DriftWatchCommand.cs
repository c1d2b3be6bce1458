using System.CommandLine;
using DriftWatch.Cli.Calibrating;
using DriftWatch.Cli.Measuring;
using DriftWatch.Cli.Transfers;

namespace DriftWatch.Cli;

/// <summary>The command line: one file a verb, composed here in the order in which a person meets them.</summary>
public static class DriftWatchCommand
{
    public static RootCommand Create()
    {
        var root = new RootCommand(
            "Memory and judgement for a transverse-scan videotape machine: samples the bench, keeps every reading, "
            + "judges it, and replays a recording through the same judgement. It drives nothing on the machine and is "
            + "no safety interlock.");
        root.Subcommands.Add(CheckCommand.Create());
        root.Subcommands.Add(WatchCommand.Create());
        root.Subcommands.Add(AccessCommand.Create());
        root.Subcommands.Add(JudgeCommand.Create());
        root.Subcommands.Add(ProbeCommand.Create());
        root.Subcommands.Add(MeasureCommand.Create());
        root.Subcommands.Add(CalibrateCommand.Create());
        root.Subcommands.Add(CalibrationsCommand.Create());
        root.Subcommands.Add(RehearseCommand.Create());
        root.Subcommands.Add(ExportCommand.Create());
        root.Subcommands.Add(ImportCommand.Create());
        root.Subcommands.Add(BackupCommand.Create());
        root.Subcommands.Add(PlotCommand.Create());
        root.Subcommands.Add(ReportCommand.Create());
        root.Subcommands.Add(PackageCommand.Create());
        root.Subcommands.Add(NoticesCommand.Create());
        root.Subcommands.Add(TransferCommand.Create());
        root.Subcommands.Add(HandOverCommand.Create());
        root.Subcommands.Add(MaintenanceCommand.Create());
        root.Subcommands.Add(SiteCommand.Create());
        root.Subcommands.Add(BaselinesCommand.Create());
        root.Subcommands.Add(AlarmsCommand.Create());
        root.Subcommands.Add(CompletionCommand.Create());
        return root;
    }
}
