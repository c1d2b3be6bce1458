namespace DriftWatch.Acquisition.Lines;

/// <summary>
/// A line could not be opened, or died. The message says what happened in plain words, <see cref="Remedy"/> what a
/// person can do about it.
/// </summary>
public sealed class LinkException : IOException
{
    public LinkException(string what, string remedy, Exception? inner = null)
        : base(what, inner)
    {
        Remedy = remedy;
    }

    public string Remedy { get; }
}

/// <summary>The words for what goes wrong with ports and addresses: one table, so that every link says the same.</summary>
internal static class LinkErrors
{
    // Linux errno values, asm-generic: the same on x64 and arm64.
    public const int NoEntry = 2;
    public const int InputOutput = 5;
    public const int NoSuchDeviceOrAddress = 6;
    public const int AccessDenied = 13;
    public const int Busy = 16;
    public const int NoDevice = 19;
    public const int InvalidArgument = 22;
    public const int NotATerminal = 25;

    public static LinkException OpenFailed(string port, int errno, string systemText) => errno switch
    {
        NoEntry => Missing(port),
        NoSuchDeviceOrAddress or NoDevice or InputOutput => new LinkException(
            $"port '{port}' has no device behind it ({systemText})",
            "plug the instrument in and power it; if the port's name has changed, write the new one in the bench file"),
        AccessDenied => new LinkException(
            $"no permission to open port '{port}'",
            "add the user to the dialout group (sudo usermod -aG dialout NAME), then log in again"),
        Busy => new LinkException(
            $"port '{port}' is in use by another program",
            "stop the other program, or give this instrument its own port"),
        NotATerminal => new LinkException(
            $"'{port}' is not a serial port",
            "write a serial device such as /dev/serial/by-id/… in the bench file"),
        _ => new LinkException(
            $"port '{port}' could not be opened: {systemText} (error {errno})",
            "check the cable and the port's name in the bench file"),
    };

    public static LinkException Missing(string port)
    {
        string? target = DanglingTarget(port);
        return target is null
            ? new LinkException(
                $"port '{port}' does not exist",
                "plug the instrument in, or write the right port in the bench file; on Linux 'ls /dev/serial/by-id' lists USB ports by name")
            : new LinkException(
                $"port '{port}' points to '{target}', which does not exist",
                "plug the instrument in; a link that stays broken belongs to a device that is gone");
    }

    public static LinkException Died(string name, string systemText, Exception? inner = null) => new(
        $"line '{name}' went down: {systemText}",
        "check the cable and the instrument's power; the line is tried again by itself",
        inner);

    public static LinkException WriteStalled(string name) => new(
        $"line '{name}' takes no bytes",
        "check the cable; if the instrument uses hardware handshake, wire it or switch it off at the instrument");

    /// <summary>The final target of a link that points nowhere; null for anything else. File.Exists says true for such a link.</summary>
    private static string? DanglingTarget(string port)
    {
        try
        {
            var info = new FileInfo(port);
            if (info.LinkTarget is null)
            {
                return null;
            }

            string target = info.ResolveLinkTarget(returnFinalTarget: true)?.FullName ?? info.LinkTarget;
            return File.Exists(target) ? null : target;
        }
        catch (IOException)
        {
            return null;
        }
        catch (UnauthorizedAccessException)
        {
            return null;
        }
    }
}
