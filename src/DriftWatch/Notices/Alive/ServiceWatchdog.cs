using System.Globalization;
using Microsoft.Extensions.Hosting.Systemd;

namespace DriftWatch.Notices.Alive;

/// <summary>
/// The service manager's watchdog (sd_notify, <c>WATCHDOG_USEC</c>): a sign three times in each span, given only while
/// every bench judges. A store that can't write does not stop it: a restart would lose what is held in memory.
/// </summary>
internal sealed class ServiceWatchdog : IAsyncDisposable
{
    private static readonly ServiceState Alive = new("WATCHDOG=1");

    private readonly ISystemdNotifier _notifier;
    private readonly Func<string?> _whyNot;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly TimeSpan _span;
    private readonly CancellationTokenSource _stop = new();
    private Task _running = Task.CompletedTask;

    private ServiceWatchdog(TimeSpan span, ISystemdNotifier notifier, Func<string?> whyNot, TimeProvider time, ILogger logger)
    {
        _span = span;
        _notifier = notifier;
        _whyNot = whyNot;
        _time = time;
        _logger = logger;
    }

    /// <summary>The span the service manager set for this process; null where it waits for no sign.</summary>
    public static TimeSpan? SpanOf(string? microseconds, string? process, int ownProcess) =>
        long.TryParse(microseconds, NumberStyles.None, CultureInfo.InvariantCulture, out long span) && span > 0
        && (string.IsNullOrEmpty(process) || process == ownProcess.ToString(CultureInfo.InvariantCulture))
            ? TimeSpan.FromMicroseconds(span)
            : null;

    /// <summary>Begins to give signs where the service manager waits for them; also says that the service is ready, where it runs under one that is not the host's parent.</summary>
    public static ServiceWatchdog? Start(Func<string?> whyNot, TimeProvider time, ILogger logger)
    {
        var notifier = new SystemdNotifier();
        if (!notifier.IsEnabled)
        {
            return null;
        }

        notifier.Notify(ServiceState.Ready);
        if (SpanOf(Environment.GetEnvironmentVariable("WATCHDOG_USEC"), Environment.GetEnvironmentVariable("WATCHDOG_PID"), Environment.ProcessId) is not { } span)
        {
            return null;
        }

        return Begin(span, notifier, whyNot, time, logger);
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _running;
        _stop.Dispose();
    }

    /// <summary>Begins to give signs to this notifier.</summary>
    internal static ServiceWatchdog Begin(TimeSpan span, ISystemdNotifier notifier, Func<string?> whyNot, TimeProvider time, ILogger logger)
    {
        var watchdog = new ServiceWatchdog(span, notifier, whyNot, time, logger);
        watchdog._running = Task.Run(watchdog.RunAsync);
        return watchdog;
    }

    private async Task RunAsync()
    {
        using var timer = new PeriodicTimer(_span / 3, _time);
        bool isHeldBack = false;
        try
        {
            do
            {
                if (_whyNot() is { } why)
                {
                    if (!isHeldBack)
                    {
                        NoticeLog.SignHeldBack(_logger, why);
                    }

                    isHeldBack = true;
                    continue;
                }

                isHeldBack = false;
                _notifier.Notify(Alive);
            }
            while (await timer.WaitForNextTickAsync(_stop.Token));
        }
        catch (OperationCanceledException)
        {
            // Told to stop.
        }
    }
}
