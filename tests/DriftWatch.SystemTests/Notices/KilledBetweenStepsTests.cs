using System.Globalization;
using System.Text.Json;
using DriftWatch.SystemTests.Service;
using Xunit.Abstractions;

namespace DriftWatch.SystemTests.Notices;

/// <summary>
/// A wire is pulled, and the service is killed somewhere on the way from the last reading to the last receipt: at a write of
/// the readings' month, of the book with its outbox, at a sync of either, at a connection to a far end, at a send. The next
/// life tells everybody, and whoever is told twice can see it by the id. <c>DRIFTWATCH_LONG=1</c> kills at every step there is.
/// </summary>
public sealed class KilledBetweenStepsTests(ITestOutputHelper output)
{
    /// <summary>Call of the kernel, the how manieth of it, of which file: <c>records</c>, <c>month</c>, or of a socket; and whether it is sure to be come to.</summary>
    public static TheoryData<string, int, string, bool> Steps()
    {
        var steps = new TheoryData<string, int, string, bool>();
        // The store's own SQLite syncs by fsync, and what is sent goes by sendto or sendmsg: traced, not guessed.
        bool all = Environment.GetEnvironmentVariable("DRIFTWATCH_LONG") == "1";
        foreach ((string call, string what, int[] few, int last) in ((string, string, int[], int)[])
        [
            ("pwrite64", "records", [2, 30], 60),
            ("fsync", "records", [2], 12),
            ("pwrite64", "month", [4], 12),
            ("fsync", "month", [2], 4),
            ("connect", "socket", [1], 3),
            ("sendmsg", "socket", [], 8),
            ("sendto", "socket", [2], 8),
        ])
        {
            foreach (int when in all ? Enumerable.Range(1, last) : few)
            {
                steps.Add(call, when, what, few.Contains(when)); // how many there are of the others differs from night to night
            }
        }

        return steps;
    }

    [Theory]
    [MemberData(nameof(Steps))]
    public async Task Killed_at_a_step_of_the_way_none_is_lost_and_what_goes_twice_has_one_id(string call, int when, string what, bool isSure)
    {
        using EmitterBench bench = NoticesOfTheServiceTests.NewBench();
        using var far = new Receivers(Path.Combine(bench.Folder, "far"));
        await far.BeginAsync();
        File.AppendAllText(bench.BenchFile, far.Toml());
        await bench.PlugIn();
        string store = Path.Combine(bench.Folder, "store");
        bool died;
        using (ServiceProcess service = await ServiceProcess.WatchAsync(bench.BenchFile, store))
        {
            await Receivers.UntilAsync(() => service.TimesLogged(1001) > 0, "it watches", said: () => NoticesOfTheServiceTests.Tail(service));
            await Task.Delay(TimeSpan.FromSeconds(1), TimeProvider.System);
            using TracedCalls tracer = await TracedCalls.InProcess(service.ProcessId, Path.Combine(bench.Folder, "trace"), TracedCalls.Kill(call, when), Files(Path.Combine(store, EmitterBench.Id), what));
            bench.Unplug();
            died = await service.EndsWithinAsync(TimeSpan.FromSeconds(25));
            Assert.True(died || !isSure, $"{call} {when} of {what} was not come to in 25 s, so nothing was killed there: {NoticesOfTheServiceTests.Tail(service)}");
            if (!died)
            {
                // There are not so many of this step: then everything has been told, and the kill comes after it.
                Assert.True(NoticesOfTheServiceTests.Alarms(far).Count > 0, NoticesOfTheServiceTests.Tail(service));
                service.KillHard();
            }
        }

        int before = NoticesOfTheServiceTests.Alarms(far).Count;
        using ServiceProcess again = await ServiceProcess.WatchAsync(bench.BenchFile, store);
        await Receivers.UntilAsync(
            () => NoticesOfTheServiceTests.Alarms(far).Count > 0 && far.Letters.Count > 0 && far.Messages.Count > 0, "told by all three", said: () => NoticesOfTheServiceTests.Tail(again));
        // A busy machine may take longer over a letter than another over the whole night: what waits is waited for.
        await UntilNothingWaitsAsync(again);
        await NoticesOfTheServiceTests.SettleAsync(far);
        await UntilNothingWaitsAsync(again);

        string[] posted = [.. NoticesOfTheServiceTests.Alarms(far).Select(p => Receivers.Text(p, "id"))];
        string[] letters = [.. far.Letters.Select(l => Receivers.Text(l, "id"))];
        string[] messages = [.. far.Messages.Select(m => Receivers.Text(m, "id"))];
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{(died ? "killed" : "not reached")}: {call} {when} of {what}; {before} posts before; in all {posted.Length} posts, {letters.Length} letters, {messages.Length} messages, twice {Twice(posted)}, {Twice(letters)}, {Twice(messages)}"));
        Assert.InRange(Twice(posted), 0, 1);
        Assert.InRange(Twice(letters), 0, 1);
        Assert.InRange(Twice(messages), 0, 1);

        // Whatever the book holds, each of the three was told; an alarm that is booked while this is asked may be on its way.
        string[] book = [];
        for (int tries = 0; tries < 20 && !(book.Length > 0 && book.SequenceEqual(Posted()) && book.SequenceEqual(Published())); tries++)
        {
            await Task.Delay(TimeSpan.FromMilliseconds(tries == 0 ? 0 : 500), TimeProvider.System);
            book = [.. (await again.GetAsync($"/api/v1/benches/{EmitterBench.Id}/alarms")).GetProperty("items").EnumerateArray().Select(a => Receivers.Text(a.GetProperty("alarm"), "id")).Distinct().Order()];
        }

        Assert.NotEmpty(book);
        Assert.Equal(book, Posted());
        Assert.Equal(book, Published());
        await UntilNothingWaitsAsync(again);
        Assert.Equal(
            NoticesOfTheServiceTests.Alarms(far).Select(p => Receivers.Text(p, "id")).Distinct().Count(),
            far.Letters.Select(l => Receivers.Text(l, "id")).Distinct().Count());

        string[] Posted() => Alarms(NoticesOfTheServiceTests.Alarms(far));
        string[] Published() => Alarms(far.Messages.Where(m => Receivers.Text(m, "kind") == "alarm"));
    }

    private static string[] Alarms(IEnumerable<JsonElement> notices) => [.. notices.Select(n => Receivers.Text(n.GetProperty("alarm"), "id")).Distinct().Order()];

    private static async Task UntilNothingWaitsAsync(ServiceProcess service)
    {
        int[] waiting = [];
        for (int tries = 0; tries < 60; tries++)
        {
            waiting = [.. (await service.GetAsync($"/api/v1/benches/{EmitterBench.Id}/notices")).GetProperty("routes").EnumerateArray().Select(r => r.GetProperty("waiting").GetInt32())];
            if (waiting.All(w => w == 0))
            {
                return;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(500), TimeProvider.System);
        }

        Assert.Fail($"After 30 s there wait {string.Join(", ", waiting)}. {NoticesOfTheServiceTests.Tail(service)}");
    }

    private static int Twice(string[] ids) => ids.Length - ids.Distinct(StringComparer.Ordinal).Count();

    private static string[] Files(string folder, string what) => what switch
    {
        "records" => [Path.Combine(folder, "records.db-wal")],
        "month" => [Directory.EnumerateFiles(folder, "????-??.db").Order(StringComparer.Ordinal).Last() + "-wal"],
        _ => [],
    };
}
