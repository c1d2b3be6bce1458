using DriftWatch.Cli;

return await CommandLineHost.RunAsync(args);
