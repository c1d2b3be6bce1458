using System.Globalization;

namespace DriftWatch.SystemTests.Service;

/// <summary>
/// A wall clock for a service, moved between its lives; its monotonic clock stays the real one. It begins
/// shortly before the end of a month and from then on only goes ahead.
/// </summary>
internal sealed class FakedClock
{
    private readonly string _file;
    private TimeSpan _ahead;

    private FakedClock(string folder) => _file = Path.Combine(folder, "clock");

    /// <summary>What the service's process is started with.</summary>
    public required IReadOnlyDictionary<string, string> Environment { get; init; }

    /// <summary>What a process that starts now reads.</summary>
    public DateTimeOffset Now => TimeProvider.System.GetUtcNow() + _ahead;

    public static FakedClock Beside(string folder)
    {
        string? library = Directory.EnumerateFiles("/usr/lib", "libfaketime.so.1", SearchOption.AllDirectories).FirstOrDefault();
        Assert.True(library is not null, "libfaketime is missing: apt-get install faketime");
        return new FakedClock(folder)
        {
            Environment = new Dictionary<string, string>
            {
                ["LD_PRELOAD"] = library!,
                ["FAKETIME_TIMESTAMP_FILE"] = Path.Combine(folder, "clock"),
                ["FAKETIME_DONT_FAKE_MONOTONIC"] = "1",
                ["DONT_FAKE_MONOTONIC"] = "1",
                ["FAKETIME_FORCE_MONOTONIC_FIX"] = "0",
            },
        };
    }

    /// <summary>To so long before the end of the month the clock stands in.</summary>
    public void GoBeforeTheMonthEnds(TimeSpan before)
    {
        DateTimeOffset now = Now;
        DateTimeOffset end = new DateTimeOffset(now.Year, now.Month, 1, 0, 0, 0, TimeSpan.Zero).AddMonths(1);
        GoAhead(end - before - now);
    }

    /// <summary>What a process is started with that reads one instant, to the second, whenever it looks.</summary>
    public static IReadOnlyDictionary<string, string> Standing(string folder, DateTimeOffset at)
    {
        FakedClock clock = Beside(folder);
        File.WriteAllText(clock._file, string.Create(CultureInfo.InvariantCulture, $"{at.UtcDateTime:yyyy-MM-dd HH:mm:ss}\n"));
        return new Dictionary<string, string>(clock.Environment) { ["TZ"] = "UTC" };
    }

    public void GoAhead(TimeSpan by)
    {
        Assert.True(by >= TimeSpan.Zero, "The clock would be set back.");
        _ahead = TimeSpan.FromSeconds(Math.Ceiling((_ahead + by).TotalSeconds));
        File.WriteAllText(_file, string.Create(CultureInfo.InvariantCulture, $"+{_ahead.TotalSeconds:0}\n"));
    }
}
