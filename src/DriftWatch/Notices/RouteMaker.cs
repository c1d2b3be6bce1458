using DriftWatch.Notices.Routes;

namespace DriftWatch.Notices;

/// <summary>Makes the way out that a route's settings ask for.</summary>
internal static class RouteMaker
{
    /// <summary>The longest that one try may take, whatever the way.</summary>
    public static readonly TimeSpan Limit = TimeSpan.FromSeconds(30);

    public static INoticeRoute Make(RouteSettings settings, string bench, TimeProvider time) => settings switch
    {
        { Trouble: { } trouble } => new UselessRoute(trouble),
        { Mail: { } mail } => new MailRoute(mail, time),
        { Webhook: { } webhook } => new WebhookRoute(webhook, time),
        { Mqtt: { } mqtt } => new MqttRoute(mqtt, $"driftwatch-{bench}-{settings.Id}", time),
        { Lamp: { } lamp } => new LampRoute(lamp, time),
        { Desktop: { } desktop } => new DesktopRoute(desktop),
        _ => throw new ArgumentException($"Route {settings.Id} has no settings of its kind.", nameof(settings)),
    };

    /// <summary>One try within <see cref="Limit"/>, whatever the route does; never throws but when cancelled.</summary>
    public static async Task<RouteAnswer> TryAsync(Func<CancellationToken, Task<RouteAnswer>> act, TimeProvider time, CancellationToken cancel)
    {
        using var limit = new CancellationTokenSource(Limit, time);
        using var both = CancellationTokenSource.CreateLinkedTokenSource(limit.Token, cancel);
        try
        {
            return await Task.Run(() => act(both.Token), CancellationToken.None).WaitAsync(Limit + TimeSpan.FromSeconds(5), time, cancel);
        }
#pragma warning disable CA1031 // whatever a library throws, the notice stays and is tried again
        catch (Exception exception) when (!cancel.IsCancellationRequested)
#pragma warning restore CA1031
        {
            return RouteWords.Of(exception);
        }
    }

    /// <summary>A route that can't work as it is written: its notices wait in the outbox until the bench file is put right.</summary>
    private sealed class UselessRoute(string trouble) : INoticeRoute
    {
        private readonly RouteAnswer _answer = new(false, trouble) { Remedy = "put the bench file right and reload it" };

        public Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel) => Task.FromResult(_answer);

        public Task<RouteAnswer> CheckAsync(CancellationToken cancel) => Task.FromResult(_answer);

        public ValueTask DisposeAsync() => ValueTask.CompletedTask;
    }
}
