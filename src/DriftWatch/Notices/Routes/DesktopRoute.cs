using System.ComponentModel;
using System.Diagnostics;
using System.Globalization;
using System.Net;
using DriftWatch.Measurement.Alarms;

namespace DriftWatch.Notices.Routes;

/// <summary>
/// A notification on the desktop of whoever runs the service, after the freedesktop Desktop Notifications
/// Specification, by its command-line client. It can't tell one that was shown twice.
/// </summary>
internal sealed class DesktopRoute(DesktopSettings settings) : INoticeRoute
{
    private const string Client = "notify-send";

    public Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel) => RunAsync(
        cancel,
        "--app-name=DriftWatch",
        $"--urgency={(notice.Kind is NoticeKind.Test or NoticeKind.FollowUp ? "low" : notice.Priority == AlarmPriority.High ? "critical" : "normal")}",
        "--category=device.error",
        "--",
        notice.Subject,
        WebUtility.HtmlEncode($"{notice.Text}\n{AlarmNotice.Caution}")); // the body may carry markup by the specification, so ours must not look like it

    public async Task<RouteAnswer> CheckAsync(CancellationToken cancel)
    {
        RouteAnswer answer = await RunAsync(cancel, "--version");
        return answer.Done && settings.Bus is null && Environment.GetEnvironmentVariable("DBUS_SESSION_BUS_ADDRESS") is not { Length: > 0 }
            ? new RouteAnswer(false, "the service runs in no desktop session") { Remedy = "run it as a user's service, or write bus = \"unix:path=/run/user/1000/bus\" of the session's user" }
            : answer;
    }

    public ValueTask DisposeAsync() => ValueTask.CompletedTask;

    private async Task<RouteAnswer> RunAsync(CancellationToken cancel, params string[] arguments)
    {
        var start = new ProcessStartInfo(Client) { UseShellExecute = false, RedirectStandardError = true, RedirectStandardOutput = true };
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        if (settings.Bus is { } bus)
        {
            start.Environment["DBUS_SESSION_BUS_ADDRESS"] = bus;
        }

        try
        {
            using Process process = Process.Start(start) ?? throw new InvalidOperationException($"{Client} did not start");
            try
            {
                Task<string> said = process.StandardError.ReadToEndAsync(cancel);
                Task<string> output = process.StandardOutput.ReadToEndAsync(cancel);
                await process.WaitForExitAsync(cancel);
                string words = (await said + await output).ReplaceLineEndings(" ").Trim();
                return process.ExitCode == 0
                    ? new RouteAnswer(true, words.Length > 0 ? words : "the desktop has it")
                    : new RouteAnswer(false, string.Create(CultureInfo.InvariantCulture, $"{Client} ended with {process.ExitCode}: {words}")) { Remedy = "look whether a desktop session runs that shows notifications, and at 'bus'" };
            }
            catch (OperationCanceledException)
            {
                process.Kill(entireProcessTree: true);
                throw;
            }
        }
        catch (Win32Exception)
        {
            return new RouteAnswer(false, $"there is no {Client} on this computer") { Remedy = "install it (Debian: libnotify-bin)" };
        }
    }
}
