using Spectre.Console;

namespace DriftWatch.Cli;

/// <summary>Shows long work: a bar on a terminal, nothing where standard error is a pipe or a file.</summary>
internal static class WorkProgress
{
    public static Task<T> RunAsync<T>(string what, Func<IProgress<double>?, Task<T>> work)
    {
        if (Console.IsErrorRedirected)
        {
            return work(null);
        }

        IAnsiConsole console = AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(Console.Error) });
        return console.Progress().AutoClear(true).StartAsync(async context =>
        {
            ProgressTask task = context.AddTask(what, maxValue: 1);
            return await work(new Bar(task));
        });
    }

    private sealed class Bar(ProgressTask task) : IProgress<double>
    {
        public void Report(double value) => task.Value = value;
    }
}
