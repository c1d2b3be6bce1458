using System.CommandLine;

namespace DriftWatch.Cli;

/// <summary>The command line: one file a verb, composed here.</summary>
public static class DriftWatchCommand
{
    public static RootCommand Create()
    {
        var root = new RootCommand(
            "Memory and judgement for a transverse-scan videotape machine: samples the bench, keeps every reading, "
            + "judges it, and replays a recording through the same judgement.");
        root.Subcommands.Add(CheckCommand.Create());
        root.Subcommands.Add(WatchCommand.Create());
        root.Subcommands.Add(JudgeCommand.Create());
        root.Subcommands.Add(ProbeCommand.Create());
        root.Subcommands.Add(RehearseCommand.Create());
        return root;
    }
}
