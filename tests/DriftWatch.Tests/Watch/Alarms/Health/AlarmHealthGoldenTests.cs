using System.Text.Json;
using CsCheck;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Support;
using DriftWatch.Watch.Alarms.Health;
using Xunit;

namespace DriftWatch.Tests.Watch.Alarms.Health;

/// <summary>The measures of a made book of thousands of lines against a second counting of them, and what must hold of any book.</summary>
public sealed class AlarmHealthGoldenTests
{
    private static readonly JsonElement Made = Golden.Json("alarms/health");
    private static readonly long Base = Made.GetProperty("base").GetInt64();
    private static readonly List<AlarmTransition> Lines = Read();

    [Fact]
    public void A_book_of_thousands_of_lines_is_measured_as_a_second_counting_measures_it()
    {
        JsonElement expected = Made.GetProperty("measures");
        var span = new AlarmSpan(
            new UtcStretch(Utc(Made.GetProperty("from").GetInt64()), Utc(Made.GetProperty("to").GetInt64())),
            Made.GetProperty("watched").EnumerateArray().Select(w => new UtcStretch(Utc(w[0].GetInt64()), Utc(w[1].GetInt64()))));
        AlarmHealthReport report = AlarmHealth.Of(Lines, span);
        Assert.True(Lines.Count > 2000);
        Assert.Equal(expected.GetProperty("calls").GetInt32(), report.Calls);
        Assert.Equal(expected.Number("watchedMinutes"), report.WatchedMinutes, 1e-6);
        Assert.Equal(expected.Number("perTen"), report.CallsPerTenMinutes.Value, 1e-9);
        Assert.Equal(expected.GetProperty("periods").GetInt32(), report.Periods);
        Assert.Equal(expected.GetProperty("over").GetInt32(), report.PeriodsOver);
        Assert.Equal(expected.GetProperty("most").GetInt32(), report.MostInAPeriod);
        Assert.Equal(Floods(expected.GetProperty("fixed")), report.FloodsByPeriods);
        Assert.Equal(Floods(expected.GetProperty("sliding")), report.Floods);
        Assert.Equal(
            expected.GetProperty("chattering").EnumerateObject().Select(p => (p.Name, p.Value.GetInt32())).Order(),
            report.Chattering.Select(c => (c.Tag, c.MostInAMinute)).Order());
        Assert.Equal(
            expected.GetProperty("stale").EnumerateArray().Select(s => (Id(s[0].GetInt32()), Nanoseconds(s[1]), s[2].ValueKind == JsonValueKind.Null ? null : (long?)Nanoseconds(s[2]))).Order(),
            report.Stale.Select(s => (s.Id, s.SinceUtc, s.UntilUtc)).Order());
        Assert.Equal(
            expected.GetProperty("standing").EnumerateObject().Select(p => (p.Name, p.Value.GetInt32())),
            report.Standing.Select(p => (Slugs.Of(p.Key), p.Value)).OrderBy(p => p.Item1, StringComparer.Ordinal));
        Assert.Equal(expected.GetProperty("waiting").GetInt32(), report.Waiting);
        Assert.Equal(expected.GetProperty("frequent").EnumerateArray().Select(t => (t[0].GetString(), t[1].GetInt32())), report.MostFrequent.Select(t => ((string?)t.Tag, t.Calls)));
        Assert.Equal(expected.Number("frequentShare"), report.MostFrequentShare.Value, 1e-12);
        Assert.Equal(expected.GetProperty("priorities").EnumerateArray().Select(p => p.GetInt32()), report.Priorities.Select(p => p.Calls));
        Assert.Equal(expected.GetProperty("acknowledged").GetInt32(), report.Acknowledged);
        Assert.Equal(expected.Number("meanWait"), report.MeanSecondsToAcknowledge.Value, 1e-9);
        Assert.Equal(expected.Number("longestWait"), report.LongestSecondsToAcknowledge.Value, 1e-9);
    }

    [Fact]
    public void The_order_in_which_lines_are_given_changes_nothing() =>
        Gen.Select(Gen.Int[0, 428_000], Gen.Int[600, 200_000]).SelectMany(s => Gen.Shuffle(Lines.ToArray()).Select(l => (s.Item1, s.Item2, l))).Sample(
            (from, length, shuffled) =>
            {
                var span = new AlarmSpan(new UtcStretch(Utc(from * 1000L), Utc((from + length) * 1000L)));
                Assert.Equal(JsonSerializer.Serialize(AlarmHealth.Of(Lines, span), Fields), JsonSerializer.Serialize(AlarmHealth.Of(shuffled, span), Fields));
            },
            iter: 20);

    [Fact]
    public void A_span_cut_in_two_at_whole_ten_minutes_gives_the_sums_of_its_parts() =>
        Gen.Select(Gen.Int[0, 350], Gen.Int[1, 200], Gen.Int[1, 200]).Sample(
            (first, left, right) =>
            {
                // Whole ten minutes of UTC, in periods from the base's.
                long at = (Utc(0) / Period * Period) + (first * Period);
                AlarmHealthReport a = AlarmHealth.Of(Lines, new AlarmSpan(new UtcStretch(at, at + (left * Period))));
                AlarmHealthReport b = AlarmHealth.Of(Lines, new AlarmSpan(new UtcStretch(at + (left * Period), at + ((left + right) * Period))));
                AlarmHealthReport both = AlarmHealth.Of(Lines, new AlarmSpan(new UtcStretch(at, at + ((left + right) * Period))));
                Assert.Equal(both.Calls, a.Calls + b.Calls);
                Assert.Equal(both.Periods, a.Periods + b.Periods);
                Assert.Equal(both.PeriodsOver, a.PeriodsOver + b.PeriodsOver);
                Assert.Equal(both.MostInAPeriod, Math.Max(a.MostInAPeriod, b.MostInAPeriod));
                Assert.Equal(both.Acknowledged, a.Acknowledged + b.Acknowledged);
                Assert.Equal(both.Priorities.Select(p => p.Calls), a.Priorities.Zip(b.Priorities, (x, y) => x.Calls + y.Calls));
                Assert.Equal(both.Chattering.Select(c => c.Tag).Order(), a.Chattering.Concat(b.Chattering).Select(c => c.Tag).Distinct().Order());
                Assert.Equal(both.Floods.Select(f => f.FromUtc), a.Floods.Concat(b.Floods).Select(f => f.FromUtc).Distinct());
                Assert.Equal(both.FloodsByPeriods.Select(f => f.FromUtc), a.FloodsByPeriods.Concat(b.FloodsByPeriods).Select(f => f.FromUtc).Distinct());
                Assert.Equal(both.Standing, b.Standing);
                Assert.Equal(both.Waiting, b.Waiting);
            },
            iter: 60);

    private const long Period = 600_000_000_000;

    private static readonly JsonSerializerOptions Fields = new() { Converters = { new AnswerWords() } };

    private static long Utc(long milliseconds) => (Base + milliseconds) * 1_000_000;

    private static long Nanoseconds(JsonElement milliseconds) => milliseconds.GetInt64() * 1_000_000;

    private static string Id(int number) => $"bench.alarm.kind.channel.{number}";

    private static IEnumerable<AlarmFlood> Floods(JsonElement floods) => floods.EnumerateArray().Select(
        f => new AlarmFlood(Nanoseconds(f[0]), f[1].ValueKind == JsonValueKind.Null ? null : Nanoseconds(f[1]), f[2].GetInt32()));

    private static List<AlarmTransition> Read()
    {
        var lines = new List<AlarmTransition>();
        foreach (JsonElement row in Made.GetProperty("lines").EnumerateArray())
        {
            long at = row[0].GetInt64();
            Assert.True(Slugs.TryParse(row[3].GetString()!, out AlarmStep step));
            Assert.True(Slugs.TryParse(row[4].GetString()!, out AlarmState to));
            bool same = lines.Count > 0 && lines[^1].AtUtc == Utc(at); // of one instant: lines of one input
            lines.Add(LineOf(row) with
            {
                Input = same ? lines[^1].Input : lines.Count + 1,
                Place = same ? lines[^1].Place + 1 : 0,
                Step = step,
                To = to,
                IsActive = row[5].GetBoolean(),
                Priority = (AlarmPriority)row[6].GetInt32(),
                At = new EngineTime(at * 1_000_000),
                AtUtc = Utc(at),
                RaisedUtc = Utc(row[7].GetInt64()),
            });
        }

        return lines;
    }

    private static AlarmTransition LineOf(JsonElement row) =>
        Storage.AlarmStoreTests.Line(1, 0) with { Id = Id(row[1].GetInt32()), Tag = $"kind.channel-{row[2].GetInt32()}" };

    /// <summary>An answer as its words, so that reports can be held against each other as text.</summary>
    private sealed class AnswerWords : System.Text.Json.Serialization.JsonConverter<DriftWatch.Analysis.Answer<double>>
    {
        public override DriftWatch.Analysis.Answer<double> Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
            throw new NotSupportedException();

        public override void Write(Utf8JsonWriter writer, DriftWatch.Analysis.Answer<double> value, JsonSerializerOptions options) =>
            writer.WriteStringValue(value.IsKnown ? value.Value.ToString("R") : value.ToString());
    }
}
