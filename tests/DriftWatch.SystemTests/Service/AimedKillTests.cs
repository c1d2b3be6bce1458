using System.Globalization;
using DriftWatch.SystemTests.Lines;
using Microsoft.Data.Sqlite;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Service;

/// <summary>
/// kill -9 of the whole service inside the steps that rewrite files: a seal, a merge, a month's roll, the copy of the
/// records, and of a backup beside it. The kernel's tracer sends the kill at a write of that step, and the files prove
/// that it fell inside: pages of a transaction that never ended, a month without its first reading, a copy without its
/// name. What a second reader saw before each kill is there after it. <c>DRIFTWATCH_LONG=1</c> kills five times as often.
/// </summary>
public sealed class AimedKillTests(ITestOutputHelper output) : IDisposable
{
    private static readonly int Times = Environment.GetEnvironmentVariable("DRIFTWATCH_LONG") == "1" ? 10 : 2;
    private const int MergedEvent = 3006;
    private static readonly TimeSpan Soon = TimeSpan.FromSeconds(25);

    private readonly EmitterBench _bench = EmitterBench.Create();
    private readonly HashSet<int> _committed = [];

    private string Store => Path.Combine(_bench.Folder, "store");

    private string Folder => Path.Combine(Store, EmitterBench.Id);

    private string TracerLog => Path.Combine(_bench.Folder, "calls.log");

    private string LiveMonth => Directory.EnumerateFiles(Folder, "????-??.db").Order(StringComparer.Ordinal).Last();

    public void Dispose() => _bench.Dispose();

    [Fact]
    public async Task A_kill_inside_a_seal_leaves_the_journal_as_it_was_and_the_next_start_seals_it()
    {
        await _bench.PlugIn();
        await LiveFor(TimeSpan.FromSeconds(3), until: () => Directory.Exists(Folder) && Directory.EnumerateFiles(Folder, "????-??.db").Any(month => Rows(month) > 0));
        for (int i = 0; i < Times; i++)
        {
            // The first commit of a life seals what the last one left in the journal, for its stretch is over.
            long journal = Count(LiveMonth, "journal");
            long segments = Count(LiveMonth, "segment");
            Assert.True(journal > 0, "Nothing waits to be sealed.");
            int at = 4 + (i % 4); // the least makes ten writes; a log that begins anew has its header before the first page's two
            string wal = LiveMonth + "-wal";
            using (ServiceProcess service = ServiceProcess.Launch(
                _bench.BenchFile, Store, before: TracedCalls.Before(TracerLog, TracedCalls.Kill("pwrite64", at), wal)))
            {
                await DiesAsync(service);
            }

            int frames = WriteAheadLog.UncommittedFrames(wal);
            output.WriteLine($"seal: killed at write {at} of the log, {frames} pages of an unfinished transaction");
            Assert.True(frames > 0, "The kill did not fall inside a transaction: " + LastCalls());
            Assert.Equal((journal, segments), (Count(LiveMonth, "journal"), Count(LiveMonth, "segment")));

            await LiveFor(TimeSpan.FromSeconds(3), until: () => Count(LiveMonth, "segment") > segments && Count(LiveMonth, "journal") > 0);
        }

        await NothingIsLost();
    }

    [Fact]
    public async Task A_kill_inside_a_merge_leaves_the_minutes_and_a_later_start_merges_them()
    {
        await _bench.PlugIn();
        FakedClock clock = FakedClock.Beside(_bench.Folder);
        clock.GoAhead(TimeSpan.FromHours(1));
        int aimed = 0;
        for (int i = 0; aimed < Times; i++)
        {
            Assert.True(i < 3 * Times, "The merge came before the tracer too often.");
            await LiveFor(TimeSpan.FromSeconds(3), clock.Environment);
            await LiveFor(TimeSpan.FromSeconds(3), clock.Environment);
            clock.GoAhead(TimeSpan.FromHours(1));
            AwayFromAMinutesEnd(clock);
            int at = 3 + (i % 4); // the least of these transactions makes eight writes
            string wal = LiveMonth + "-wal";
            using (ServiceProcess service = await ServiceProcess.WatchAsync(_bench.BenchFile, Store, clock.Environment))
            {
                using TracedCalls tracer = await TracedCalls.InThread(service.ProcessId, "upkeep", TracerLog, TracedCalls.Kill("pwrite64", at), wal);
                bool died = await DiesWithinAsync(service, Soon);
                if (service.TimesLogged(MergedEvent) > 0)
                {
                    // On a loaded machine the first turn of upkeep may come before the tracer does: this life is not counted.
                    continue;
                }

                Assert.True(died, $"The merge did not come: {LastCalls()}\n{string.Join('\n', service.Said)}");
            }

            aimed++;
            int frames = WriteAheadLog.UncommittedFrames(wal);
            output.WriteLine($"merge: killed at write {at} of the upkeep's thread, {frames} pages of an unfinished transaction");
            Assert.True(frames > 0, "The kill did not fall inside a transaction: " + LastCalls());
            long hours = Count(LiveMonth, "segment WHERE level = 1");

            using ServiceProcess next = await ServiceProcess.WatchAsync(_bench.BenchFile, Store, clock.Environment);
            await Until(() => Count(LiveMonth, "segment WHERE level = 1") > hours, "The hour was never merged.");
            Assert.Equal(0, (await next.StopAsync()).Code);
        }

        await NothingIsLost();
    }

    [Theory]
    [InlineData("openat", 1, "next")]
    [InlineData("pwrite64", 2, "next")]
    [InlineData("pwrite64", 9, "next")]
    [InlineData("pwrite64", 1, "ended")]
    public async Task A_kill_inside_a_month_s_roll_loses_neither_month(string call, int at, string which)
    {
        await _bench.PlugIn();
        FakedClock clock = FakedClock.Beside(_bench.Folder);
        clock.GoBeforeTheMonthEnds(TimeSpan.FromSeconds(12));
        string ended = Path.Combine(Folder, clock.Now.ToString("yyyy-MM", CultureInfo.InvariantCulture) + ".db");
        string next = Path.Combine(Folder, clock.Now.AddMonths(1).ToString("yyyy-MM", CultureInfo.InvariantCulture) + ".db");
        string[] files = which == "next" ? [next, next + "-wal", next + "-journal"] : [ended];
        using (ServiceProcess service = await ServiceProcess.WatchAsync(_bench.BenchFile, Store, clock.Environment))
        {
            // Making the month that ends writes its first page too, and is not the write aimed at.
            await Until(() => Rows(ended) > 0, "The month that ends was never written.");
            using TracedCalls tracer = await TracedCalls.InThread(service.ProcessId, "pipeline", TracerLog, TracedCalls.Kill(call, at), files);
            await DiesAsync(service);
        }

        output.WriteLine($"roll: killed at {LastCalls()}");
        Assert.True(File.Exists(ended));
        Assert.True(Rows(next) == 0, "The month had rolled before the kill.");

        await LiveFor(TimeSpan.FromSeconds(3), clock.Environment);
        Assert.True(Rows(next) > 0, "The month never rolled.");
        await NothingIsLost();
    }

    [Fact]
    public async Task A_kill_inside_the_copy_of_the_records_leaves_the_last_copy_sound()
    {
        await _bench.PlugIn();
        string copy = Path.Combine(Folder, "records.copy.db");
        await LiveFor(TimeSpan.FromSeconds(6)); // past the first upkeep, which copies
        byte[] before = await File.ReadAllBytesAsync(copy);
        int aimed = 0;
        for (int i = 0; aimed < Times; i++)
        {
            Assert.True(i < 3 * Times, "The copy came before the tracer too often.");
            using ServiceProcess service = await ServiceProcess.WatchAsync(_bench.BenchFile, Store);
            using TracedCalls tracer = await TracedCalls.InThread(service.ProcessId, "upkeep", TracerLog, TracedCalls.Kill("pwrite64", 2 + aimed), copy + ".part");
            bool died = await DiesWithinAsync(service, Soon);
            byte[] now = await File.ReadAllBytesAsync(copy);
            if (!died && !now.AsSpan().SequenceEqual(before))
            {
                // On a loaded machine the first turn of upkeep may come before the tracer does: this life is not counted.
                before = now;
                service.KillHard();
                continue;
            }

            Assert.True(died, $"The copy did not come: {LastCalls()}\n{string.Join('\n', service.Said)}");
            aimed++;
            output.WriteLine($"records: killed at {LastCalls()}");
            Assert.True(File.Exists(copy + ".part"), "The kill did not fall inside the copy.");
            Assert.Equal(before, await File.ReadAllBytesAsync(copy));
        }

        await LiveFor(TimeSpan.FromSeconds(6));
        Assert.False(File.Exists(copy + ".part"));
        Assert.NotEqual(before, await File.ReadAllBytesAsync(copy));
        await NothingIsLost();
    }

    [Fact]
    public async Task A_backup_that_is_killed_harms_neither_the_service_nor_the_backup_before_it()
    {
        await _bench.PlugIn();
        string backup = Path.Combine(_bench.Folder, "backup");
        string[] arguments = ["backup", Folder, "--out", Path.Combine(backup, EmitterBench.Id)];
        using (ServiceProcess service = await ServiceProcess.WatchAsync(_bench.BenchFile, Store))
        {
            await Task.Delay(TimeSpan.FromSeconds(3), TimeProvider.System);
            (int code, string said) = await ServiceProcess.RunAsync(arguments);
            Assert.True(code == 0, said);
            IReadOnlyList<int> first = _bench.Stored(backup);
            Assert.NotEmpty(first);
            foreach (string name in (string[])["records.db", Path.GetFileName(LiveMonth)])
            {
                for (int i = 0; i < Times; i++)
                {
                    string part = Path.Combine(backup, EmitterBench.Id, name + ".part");
                    (code, _) = await ServiceProcess.RunAsync(TracedCalls.Before(TracerLog, TracedCalls.Kill("pwrite64", 2 + i), part), arguments);
                    output.WriteLine($"backup: exit code {code}, killed at {LastCalls()}");
                    Assert.Equal(128 + 9, code);
                    Assert.True(File.Exists(part), "The kill did not fall inside the copy.");
                    Assert.Empty(first.Except(_bench.Stored(backup)));
                }
            }

            _committed.UnionWith(_bench.Stored(Store));
            (code, said) = await ServiceProcess.RunAsync(arguments);
            Assert.True(code == 0, said);
            Assert.Empty(_committed.Except(_bench.Stored(backup)));
            Assert.Empty(Directory.EnumerateFiles(Path.Combine(backup, EmitterBench.Id), "*.part"));
            Assert.Equal(0, (await service.StopAsync()).Code);
        }

        await NothingIsLost();
    }

    /// <summary>A life that ends with a kill nobody aims, after what it must have done, however slow the machine.</summary>
    private async Task LiveFor(TimeSpan span, IReadOnlyDictionary<string, string>? environment = null, Func<bool>? until = null)
    {
        using ServiceProcess service = await ServiceProcess.WatchAsync(_bench.BenchFile, Store, environment);
        await Task.Delay(span, TimeProvider.System);
        await Until(until ?? (() => true), "The life did not do what it must before its kill.");
        _committed.UnionWith(_bench.Stored(Store));
        service.KillHard();
    }

    /// <summary>Reads beside the service until the tracer's kill comes.</summary>
    private async Task DiesAsync(ServiceProcess service) => Assert.True(
        await DiesWithinAsync(service, Soon), $"The step did not come: {LastCalls()}\n{string.Join('\n', service.Said)}");

    private async Task<bool> DiesWithinAsync(ServiceProcess service, TimeSpan limit)
    {
        long from = TimeProvider.System.GetTimestamp();
        while (!await service.EndsWithinAsync(TimeSpan.FromMilliseconds(200)))
        {
            _committed.UnionWith(_bench.CommittedNow(Store));
            if (TimeProvider.System.GetElapsedTime(from) > limit)
            {
                return false;
            }
        }

        return true;
    }

    private async Task NothingIsLost()
    {
        using (ServiceProcess last = await ServiceProcess.WatchAsync(_bench.BenchFile, Store))
        {
            await Task.Delay(TimeSpan.FromSeconds(1.5), TimeProvider.System);
            Assert.Equal(0, (await last.StopAsync()).Code);
        }

        _bench.Unplug();
        IReadOnlyList<int> stored = _bench.Stored(Store);
        Assert.Equal(stored.Order(), stored);
        Assert.Equal(stored.Distinct(), stored);
        Assert.NotEmpty(_committed);
        Assert.Empty(_committed.Except(stored));
        output.WriteLine($"{_committed.Count} lines seen by a second reader before a kill, 0 of them lost");
    }

    /// <summary>So that in the seconds to come nothing is sealed because its minute is over.</summary>
    private static void AwayFromAMinutesEnd(FakedClock clock)
    {
        if (clock.Now.Second > 30)
        {
            clock.GoAhead(TimeSpan.FromSeconds(65 - clock.Now.Second));
        }
    }

    private static async Task Until(Func<bool> condition, string message)
    {
        long from = TimeProvider.System.GetTimestamp();
        while (!condition())
        {
            Assert.True(TimeProvider.System.GetElapsedTime(from) < Soon, message);
            await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
        }
    }

    private string LastCalls() => File.Exists(TracerLog) ? string.Join(" | ", TracedCalls.Seen(TracerLog).TakeLast(2)) : "(nothing traced)";

    /// <summary>Readings committed to a month; 0 while it has no file or no tables.</summary>
    private static long Rows(string month) => File.Exists(month) && Count(month, "sqlite_master") > 0
        ? Count(month, "journal") + Count(month, "segment")
        : 0;

    private static long Count(string month, string what)
    {
        using var connection = new SqliteConnection($"Data Source={month};Mode=ReadOnly;Pooling=False");
        connection.Open();
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // The names are this test's own.
        command.CommandText = "SELECT count(*) FROM " + what;
#pragma warning restore CA2100
        return (long)command.ExecuteScalar()!;
    }
}
