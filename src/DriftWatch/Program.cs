using System.CommandLine;
using DriftWatch.Cli;

RootCommand root = DriftWatchCommand.Create();
return await root.Parse(args).InvokeAsync();
