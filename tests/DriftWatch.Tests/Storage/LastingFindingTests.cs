using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using Microsoft.Data.Sqlite;
using Xunit;

namespace DriftWatch.Tests.Storage;

/// <summary>What was raised long before a span and lasts into it belongs to it, though no line of it was written near.</summary>
public sealed class LastingFindingTests
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 14, 12, 0, 0, TimeSpan.Zero);

    /// <summary>An input an hour, numbers from 3 on: the hour is the number less three. The span asked for is that of hours 60 to 62, and six hours before it.</summary>
    [Fact]
    public void A_span_has_what_lasted_before_it_however_long_and_nothing_that_was_over()
    {
        using var folder = new StoreFolder();
        using BenchStore store = folder.Open();
        var log = new LogMaker();
        log.Start(default, Noon, LogMaker.Bench(1));
        for (int hour = 0; hour < 100; hour++)
        {
            log.Run(EngineTime.FromSeconds(3600 * hour), 1, 1, new Random(hour));
        }

        store.Append([.. log.Inputs]);
        long At(int hour) => log.Inputs.First(i => i.Time >= EngineTime.FromSeconds(3600 * hour) && i.Number > 2).Number;
        FindingLine Line(string id, FindingPhase phase, int hour, bool isNote = false) => BenchStoreTests.Line(id, phase, At(hour)) with
        {
            RaisedAt = EngineTime.FromSeconds(3600 * hour),
            End = isNote || phase == FindingPhase.Ended ? EngineTime.FromSeconds(3600 * hour) : null,
            EndUtc = isNote || phase == FindingPhase.Ended ? UtcText.ToNanoseconds(Noon.AddHours(hour)) : null,
        };

        store.CommitJudged(store.LastNumber, [1], "first",
        [
            Line("over", FindingPhase.Raised, 2), Line("note", FindingPhase.Raised, 3, isNote: true), Line("lasts", FindingPhase.Raised, 4),
            Line("lasts", FindingPhase.Updated, 5), Line("lasts", FindingPhase.Updated, 6), Line("ends-in", FindingPhase.Raised, 7), Line("ends-after", FindingPhase.Raised, 8),
            Line("over", FindingPhase.Ended, 9), Line("state", FindingPhase.Raised, 10, isNote: true),
            Line("near", FindingPhase.Raised, 58), Line("ends-in", FindingPhase.Ended, 61), Line("ends-after", FindingPhase.Ended, 80), Line("later", FindingPhase.Raised, 90),
        ]);
        using BenchReader reader = store.OpenReader();
        string[] expected =
        [
            "lasts Raised 4", "lasts Updated 6", "ends-in Raised 7", "ends-after Raised 8", "state Raised 10", "near Raised 58", "ends-in Ended 61", "ends-after Ended 80",
        ];
        (EngineTime from, EngineTime to) = (EngineTime.FromSeconds(3600 * 60), EngineTime.FromSeconds((3600 * 62) + 1800));
        string Told(StoredFinding f) => $"{f.Line.Id} {f.Line.Phase} {Enumerable.Range(0, 100).First(h => At(h) == f.Line.Input)}";
        Assert.Equal(expected, reader.FindingsBetween(from, to, TimeSpan.FromHours(6), 100).Select(Told));
        Assert.Equal(expected, reader.EachFindingBetween(from, to, TimeSpan.FromHours(6), page: 1).Select(Told));
        Assert.Equal(["lasts Updated 6", "near Raised 58", "later Raised 90"], reader.LastingFindings().Select(Told));
    }

    [Fact]
    public void They_are_looked_up_by_an_index_and_not_among_all_findings_of_years()
    {
        using var folder = new StoreFolder();
        using (folder.Open())
        {
        }

        using var connection = new SqliteConnection($"Data Source={Path.Combine(folder.Path, "records.db")};Mode=ReadOnly;Pooling=False");
        connection.Open();
        using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is the store's.
        command.CommandText = "EXPLAIN QUERY PLAN " + BenchReader.LastingAt;
#pragma warning restore CA2100
        command.Parameters.AddWithValue("$a", 5);
        using SqliteDataReader rows = command.ExecuteReader();
        var plan = new List<string>();
        while (rows.Read())
        {
            plan.Add(rows.GetString(3));
        }

        Assert.Contains(plan, p => p.Contains("USING INDEX finding_lasting", StringComparison.Ordinal));
        Assert.DoesNotContain(plan, p => p.StartsWith("SCAN", StringComparison.Ordinal));
    }
}
