namespace DriftWatch.Cli;

/// <summary>What each command returns; documented in every help text, so scripts may rely on it.</summary>
public static class ExitCode
{
    /// <summary>Done.</summary>
    public const int Done = 0;

    /// <summary>The thing asked about is not sound: <c>check</c> found mistakes, <c>probe</c> found a silent instrument, <c>judge --fail-on</c> met it.</summary>
    public const int NotSound = 1;

    /// <summary>The command line itself is wrong.</summary>
    public const int Usage = 2;

    /// <summary>A file is missing, unreadable or malformed.</summary>
    public const int BadInput = 3;

    /// <summary>The surroundings refuse: port or address in use, no permission, disk full.</summary>
    public const int Environment = 4;

    /// <summary>A fault of ours; the message asks to report it.</summary>
    public const int Internal = 70;

    /// <summary>Stopped by a signal before it was done, as shells have it (128 + SIGINT).</summary>
    public const int Stopped = 130;
}

/// <summary>Ends a command with one line for the person and the given exit code.</summary>
public sealed class CommandException : Exception
{
    public CommandException(int exitCode, string message, Exception? inner = null)
        : base(message, inner) => Code = exitCode;

    public int Code { get; }
}
