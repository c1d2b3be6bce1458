using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using Microsoft.Data.Sqlite;
using Xunit;
using Xunit.Abstractions;

namespace DriftWatch.Tests.Storage;

/// <summary>Cut, full, flipped, newer or missing: a clear error, and nothing that was acknowledged is lost.</summary>
public sealed class DamageTests(ITestOutputHelper output)
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 14, 12, 0, 0, TimeSpan.Zero);

    [Fact]
    public void A_write_ahead_log_cut_anywhere_loses_nothing_committed_before_the_cut()
    {
        int seed = Environment.TickCount;
        int cuts = Environment.GetEnvironmentVariable("DRIFTWATCH_LONG") == "1" ? 1000 : 200;
        output.WriteLine($"seed {seed}, {cuts} cuts");
        var random = new Random(seed);
        using var folder = new StoreFolder();
        LogMaker log = ALog(150, random);
        var commits = new List<(long WalLength, long Number)>();
        string image;
        using (BenchStore store = folder.Open(new BenchStoreOptions { BallastBytes = 0, CheckpointPages = 0 }))
        {
            foreach (EngineInput[] second in log.Inputs.Chunk(50))
            {
                store.Append(second);
                commits.Add((new FileInfo(Path.Combine(folder.Path, "2026-03.db-wal")).Length, store.LastNumber));
            }

            image = folder.Copy(); // as a power cut leaves it: nothing was closed
        }

        string wal = Path.Combine(image, "2026-03.db-wal");
        byte[] whole = File.ReadAllBytes(wal);
        byte[] month = File.ReadAllBytes(Path.Combine(image, "2026-03.db"));
        for (int i = 0; i < cuts; i++)
        {
            int cut = random.Next(0, whole.Length + 1);
            File.WriteAllBytes(Path.Combine(image, "2026-03.db"), month);
            File.WriteAllBytes(wal, whole[..cut]);
            File.Delete(wal.Replace("-wal", "-shm", StringComparison.Ordinal));
            long committed = commits.LastOrDefault(commit => commit.WalLength <= cut).Number;
            using BenchStore reopened = BenchStore.Open(image, new BenchStoreOptions { BallastBytes = 0 });
            Assert.Empty(reopened.SetAsideFiles);
            List<EngineInput> left = reopened.ReadInputs(0).ToList();
            Assert.True(left.Count >= committed, $"cut at {cut}: {left.Count} of {committed} inputs left");
            LogAssert.Equal(log.Inputs.Take(left.Count).ToList(), left);
        }

        Directory.Delete(image, recursive: true);
    }

    [Fact]
    public void On_a_full_disk_the_batch_is_refused_whole_and_stored_when_room_returns()
    {
        using var folder = new StoreFolder();
        LogMaker log = ALog(300, new Random(5));
        EngineInput[][] batches = [.. log.Inputs.Chunk(400)];
        long acknowledged = 0;
        int stored = 0;
        using (BenchStore store = folder.Open(new BenchStoreOptions { BallastBytes = 0, MaximumPages = 24 }))
        {
            StoreException full = Assert.Throws<StoreException>(() =>
            {
                foreach (EngineInput[] batch in batches)
                {
                    store.Append(batch);
                    acknowledged = store.LastNumber;
                    stored++;
                }
            });
            Assert.Equal(StoreTrouble.DiskFull, full.Trouble);
            Assert.True(store.IsFull);
            Assert.True(stored > 0);
            Assert.Equal(acknowledged, store.LastNumber);
            LogAssert.Equal(log.Inputs.Take((int)acknowledged).ToList(), store.ReadInputs(0).ToList());
            Assert.Throws<StoreException>(() => store.Append(batches[stored]));

            store.AllowPages(100_000); // room returns, on the same connection
            foreach (EngineInput[] batch in batches[stored..])
            {
                store.Append(batch);
            }

            Assert.False(store.IsFull);
            LogAssert.Equal(log.Inputs, store.ReadInputs(0).ToList());
        }
    }

    [Fact]
    public void Below_the_floor_of_free_space_it_stops_and_above_it_goes_on()
    {
        using var folder = new StoreFolder();
        long free = 1L << 30;
        using BenchStore store = folder.Open(new BenchStoreOptions { BallastBytes = 1 << 16, FreeSpace = _ => free });
        Assert.Equal((free, false), (store.Facts()!.FreeBytes, store.Facts()!.IsFull));
        LogMaker log = ALog(2, new Random(5));
        EngineInput[][] batches = [.. log.Inputs.Chunk(20)];
        store.Append(batches[0]);
        Assert.InRange(store.Facts()!.Bytes, 1 << 16, 1 << 24);
        Assert.Equal("2026-03", Assert.Single(store.Facts()!.Months));
        Assert.Equal(1 << 16, new FileInfo(Path.Combine(folder.Path, "ballast.bin")).Length);
        free = 1 << 20;
        Assert.Equal(StoreTrouble.DiskFull, Assert.Throws<StoreException>(() => store.Append(batches[1])).Trouble);
        Assert.Equal((free, true), (store.Facts()!.FreeBytes, store.Facts()!.IsFull));
        store.RetainDue();
        Assert.False(File.Exists(Path.Combine(folder.Path, "ballast.bin")));
        free = 1L << 30;
        store.Append(batches[1]);
        Assert.True(File.Exists(Path.Combine(folder.Path, "ballast.bin")));
        Assert.Equal(batches[1][^1].Number, store.LastNumber);
    }

    [Fact]
    public void A_damaged_month_file_is_set_aside_and_the_service_goes_on_with_a_new_one()
    {
        using var folder = new StoreFolder();
        LogMaker log = ALog(130, new Random(9));
        long last;
        using (BenchStore store = folder.Open())
        {
            store.Append(log.Inputs.ToArray());
            store.CommitJudged(store.LastNumber, [1], "b", []);
            last = store.LastNumber;
        }

        string path = Path.Combine(folder.Path, "2026-03.db");
        byte[] bytes = File.ReadAllBytes(path);
        new Random(1).NextBytes(bytes.AsSpan(100, bytes.Length - 100));
        File.WriteAllBytes(path, bytes);
        using (BenchStore store = folder.Open())
        {
            string aside = Assert.Single(store.SetAsideFiles);
            Assert.True(File.Exists(aside));
            Assert.Equal(last, store.LastNumber); // numbers and time never run back
            Assert.Equal(log.Inputs[^1].Time, store.LastTime);
            Assert.Equal("west-bench", store.CurrentBench!.Id);
            var next = new LogMaker(last + 1);
            next.Start(store.LastTime, Noon.AddMinutes(5));
            next.Run(store.LastTime, 3, 3, new Random(2));
            store.Append(next.Inputs.ToArray());
            LogAssert.Equal(next.Inputs, store.ReadInputs(0).ToList());
        }
    }

    [Fact]
    public void A_damaged_or_missing_records_file_is_restored_from_its_copy()
    {
        using var folder = new StoreFolder();
        FindingLine line = BenchStoreTests.Line("f-9", FindingPhase.Raised, 3);
        using (BenchStore store = folder.Open())
        {
            store.KeyFor("regulated-air");
            store.Append(ALog(2, new Random(1)).Inputs.ToArray());
            store.CommitJudged(3, [9], "b", [line]);
        }

        string records = Path.Combine(folder.Path, "records.db");
        byte[] bytes = File.ReadAllBytes(records);
        new Random(1).NextBytes(bytes.AsSpan(0, bytes.Length / 2));
        foreach (Action harm in (Action[])[() => File.WriteAllBytes(records, bytes), () => File.Delete(records)])
        {
            // A log left beside the file would mend it on opening; here there is none.
            File.Delete(records + "-wal");
            File.Delete(records + "-shm");
            harm();
            using BenchStore store = folder.Open();
            Assert.NotNull(store.RecordsRestored);
            Assert.Equal(0, store.ChannelKeys["regulated-air"]);
            Assert.Equal(3, store.LoadJudged()!.Number);
            using BenchReader reader = store.OpenReader();
            Assert.Equal(line.Id, Assert.Single(reader.Findings(0, 10)).Line.Id);
        }
    }

    [Fact]
    public void Records_without_a_sound_copy_are_refused_and_never_replaced_by_an_empty_file()
    {
        using var folder = new StoreFolder();
        using (BenchStore store = folder.Open())
        {
            store.Append(ALog(2, new Random(1)).Inputs.ToArray());
        }

        File.Delete(Path.Combine(folder.Path, "records.copy.db"));
        string records = Path.Combine(folder.Path, "records.db");
        File.WriteAllBytes(records, new byte[5000]);
        StoreException refused = Assert.Throws<StoreException>(() => folder.Open());
        Assert.Equal(StoreTrouble.Damaged, refused.Trouble);
        Assert.Equal(5000, new FileInfo(records).Length);
    }

    [Theory]
    [InlineData("records.db")]
    [InlineData("2026-03.db")]
    public void A_file_of_a_newer_version_is_refused_untouched(string name)
    {
        using var folder = new StoreFolder();
        using (BenchStore store = folder.Open())
        {
            store.Append(ALog(2, new Random(1)).Inputs.ToArray());
        }

        Execute(Path.Combine(folder.Path, name), "PRAGMA user_version = 99");
        StoreException refused = Assert.Throws<StoreException>(() => folder.Open());
        Assert.Equal(StoreTrouble.NewerSchema, refused.Trouble);
        Assert.Contains(name, refused.Message, StringComparison.Ordinal);
        Assert.True(File.Exists(Path.Combine(folder.Path, name)));
    }

    [Theory]
    [InlineData("UPDATE block SET data = zeroblob(length(data)) WHERE id = (SELECT min(id) FROM block)", "block")]
    [InlineData("UPDATE block SET data = substr(data, 1, length(data) - 1) WHERE id = (SELECT min(id) FROM block)", "block")]
    [InlineData("UPDATE block SET version = version + 1 WHERE id = (SELECT min(id) FROM block)", "block")]
    [InlineData("UPDATE block SET n = n - 1 WHERE id = (SELECT min(id) FROM block)", "block")]
    [InlineData("UPDATE times SET data = zeroblob(length(data))", "instants")]
    [InlineData("DELETE FROM times", "instants")]
    [InlineData("UPDATE explicit SET data = zeroblob(length(data))", "checksum")]
    public void A_corrupt_block_is_named_and_never_read_as_numbers(string harm, string word)
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        store.Append(ALog(130, new Random(4)).Inputs.ToArray());
        Execute(Path.Combine(folder.Path, "2026-03.db"), harm);
        StoreException found = Assert.Throws<StoreException>(() => store.ReadInputs(0).Count());
        Assert.Equal(StoreTrouble.Damaged, found.Trouble);
        Assert.Contains(word, found.Message, StringComparison.Ordinal);
        Assert.Contains("2026-03.db", found.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_closed_month_with_a_broken_table_is_told_and_keeps_no_other_month_from_being_merged()
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        var log = new LogMaker();
        for (int month = 1; month <= 3; month++)
        {
            log.Start(EngineTime.FromSeconds(100_000 * month), new DateTimeOffset(2026, month, 10, 0, 0, 0, TimeSpan.Zero), LogMaker.Bench(1));
            log.Run(EngineTime.FromSeconds(100_000 * month), 200, 1, new Random(month));
        }

        store.Append(log.Inputs.ToArray());
        string january = Path.Combine(folder.Path, "2026-01.db");
        BreakTable(january, "segment");

        Assert.Equal(1, store.MergeDue()); // February; March is still being written
        FileProblem problem = Assert.Single(store.VerifyClosed());
        Assert.Equal(january, problem.Path);
        Assert.Empty(store.SetAsideFiles); // a closed month is not moved under its readers' feet
    }

    [Fact]
    public async Task A_backup_taken_while_writing_opens_and_holds_a_prefix_of_the_log()
    {
        using var folder = new StoreFolder();
        string backup = Path.Combine(folder.Path, "backup");
        LogMaker log = ALog(200, new Random(6));
        var progress = new List<BackupProgress>();
        using (BenchStore store = folder.Open())
        {
            EngineInput[][] batches = [.. log.Inputs.Chunk(40)];
            store.Append(batches[0]);
            Task writing = Task.Run(() =>
            {
                foreach (EngineInput[] batch in batches[1..])
                {
                    store.Append(batch);
                }
            });
            store.BackupTo(backup, new Collect(progress));
            await writing;
            LogAssert.Equal(log.Inputs, store.ReadInputs(0).ToList());
        }

        Assert.Equal(progress[^1].TotalBytes, progress[^1].DoneBytes);
        using BenchStore copy = BenchStore.Open(backup, new BenchStoreOptions { BallastBytes = 0 });
        List<EngineInput> held = copy.ReadInputs(0).ToList();
        Assert.NotEmpty(held);
        LogAssert.Equal(log.Inputs.Take(held.Count).ToList(), held);
        Assert.Equal("west-bench", copy.CurrentBench!.Id);
    }

    private static LogMaker ALog(double seconds, Random random)
    {
        var log = new LogMaker();
        log.Start(default, Noon, LogMaker.Bench(3));
        log.Run(default, seconds, 3, random, extremes: true, faults: 0.02);
        return log;
    }

    /// <summary>Overwrites the root page of a table, as a bad sector would.</summary>
    private static void BreakTable(string path, string table)
    {
        long page;
        using (var connection = new SqliteConnection($"Data Source={path};Pooling=False"))
        {
            connection.Open();
            using SqliteCommand command = connection.CreateCommand();
            command.CommandText = "PRAGMA wal_checkpoint(TRUNCATE)";
            command.ExecuteNonQuery();
            command.CommandText = "SELECT rootpage FROM sqlite_schema WHERE name = $name";
            command.Parameters.AddWithValue("$name", table);
            page = (long)command.ExecuteScalar()!;
        }

        byte[] bytes = File.ReadAllBytes(path);
        int size = (bytes[16] << 8) | bytes[17];
        bytes.AsSpan((int)(page - 1) * size, size).Fill(0xff);
        File.WriteAllBytes(path, bytes);
    }

    private static void Execute(string path, string sql)
    {
        using var connection = new SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // Constant texts of the tests.
        command.CommandText = sql;
#pragma warning restore CA2100
        command.ExecuteNonQuery();
    }

    private sealed class Collect(List<BackupProgress> into) : IProgress<BackupProgress>
    {
        public void Report(BackupProgress value) => into.Add(value);
    }
}
