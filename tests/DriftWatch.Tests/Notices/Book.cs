using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Notices;
using DriftWatch.Notices.Routes;

namespace DriftWatch.Tests.Notices;

/// <summary>Lines of the alarm book by hand, and a route that remembers.</summary>
internal static class Book
{
    public static AlarmTransition Line(
        string alarm, long input, AlarmStep step = AlarmStep.Raised, AlarmState to = AlarmState.Unacknowledged,
        AlarmPriority priority = AlarmPriority.Medium, double atSeconds = 0) => new()
        {
            Id = alarm,
            Tag = "limit." + alarm,
            Input = input,
            Place = 0,
            Bench = "bench",
            BenchHash = "ab",
            Step = step,
            From = AlarmState.Normal,
            To = to,
            IsActive = to is AlarmState.Unacknowledged or AlarmState.Acknowledged,
            IsAcknowledged = to is AlarmState.Acknowledged,
            Priority = priority,
            At = EngineTime.FromSeconds(atSeconds),
            AtUtc = (long)(atSeconds * 1e9),
            RaisedUtc = (long)(atSeconds * 1e9),
            StartUtc = (long)(atSeconds * 1e9),
            State = MachineState.Running,
            FirstOut = alarm + ".finding",
            Findings = 1,
            Channel = "supply-air",
            Value = 61.25,
            Limit = 65,
            Unit = "psi",
            LimitSource = "common practice, no source",
            Text = $"Supply air is low ({alarm}).",
        };

    public static RouteSettings Route(string id = "mail", RouteKind kind = RouteKind.Webhook) =>
        new() { Id = id, Kind = kind, File = "b.toml", Line = 1, LeastPriority = AlarmPriority.Low };
}

/// <summary>A route that remembers what it was given; it fails, or hangs, while it is told to.</summary>
internal sealed class FakeRoute : INoticeRoute
{
    private readonly List<AlarmNotice> _taken = [];

    /// <summary>What it answers; null lets it take the notice.</summary>
    public Func<AlarmNotice, RouteAnswer?> Answer { get; set; } = _ => null;

    public int Tries { get; private set; }

    public int Checks { get; private set; }

    /// <summary>What a try waits for before it answers.</summary>
    public Task Wait { get; set; } = Task.CompletedTask;

    public IReadOnlyList<AlarmNotice> Taken
    {
        get
        {
            lock (_taken)
            {
                return [.. _taken];
            }
        }
    }

    public async Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel)
    {
        await Wait;
        lock (_taken)
        {
            Tries++;
            if (Answer(notice) is { } no)
            {
                return no;
            }

            _taken.Add(notice);
            return new RouteAnswer(true, "taken");
        }
    }

    public Task<RouteAnswer> CheckAsync(CancellationToken cancel)
    {
        Checks++;
        return Task.FromResult(new RouteAnswer(true, "there"));
    }

    public ValueTask DisposeAsync() => ValueTask.CompletedTask;
}
