using System.Runtime.InteropServices;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage.Codec;
using DriftWatch.Storage.Months;
using Microsoft.Data.Sqlite;

namespace DriftWatch.Storage.Queries;

/// <summary>Buckets of one channel or of many at once, and the walk over segments, late readings and journal below them.</summary>
public sealed partial class BenchReader
{
    /// <summary>From this many channels on a segment's rollups of a level are read in one go: they lie side by side.</summary>
    private const int Many = 3;

    /// <summary>At most <paramref name="count"/> even buckets over the span, from the coarsest rollup that serves. Empty ones are left out.</summary>
    public IReadOnlyList<RawBucket> ReadBuckets(int channel, EngineTime from, EngineTime to, int count) =>
        ReadBuckets([channel], from, to, count)[0];

    /// <summary>The same of several channels in one walk over the files: a list for each, in their order, all on the same edges.</summary>
    /// <param name="channels">Keys, each once.</param>
    /// <param name="from">Begin of the first bucket, but for the rollup's grid.</param>
    /// <param name="to">End of the last one.</param>
    /// <param name="count">Of buckets, at least 1.</param>
    /// <exception cref="StoreException">A block on the way is damaged, or a file can't be read.</exception>
    public IReadOnlyList<IReadOnlyList<RawBucket>> ReadBuckets(IReadOnlyList<int> channels, EngineTime from, EngineTime to, int count)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(count, 1);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(to.Nanoseconds, from.Nanoseconds, nameof(to));
        lock (_gate)
        {
            var grids = new Dictionary<int, BucketGrid>(channels.Count);
            foreach (int channel in channels)
            {
                grids.Add(channel, new BucketGrid(from, to, count));
            }

            if (grids.Count == 0)
            {
                return [];
            }

            BucketGrid any = grids[channels[0]];
            var served = new HashSet<int>();
            Walk(
                channels, any.From, any.To, damage: null,
                (path, connection, row) =>
                {
                    served.Clear();
                    if (channels.Count >= Many && row.Level > 0 && any.Level >= 0)
                    {
                        foreach (RollupColumn rollup in SegmentStore.ReadRollups(connection, path, row.Id, any.Level))
                        {
                            if (grids.TryGetValue(rollup.Channel, out BucketGrid? grid))
                            {
                                grid.Add(rollup);
                                served.Add(rollup.Channel);
                            }
                        }
                    }

                    foreach (int channel in channels)
                    {
                        if (!served.Contains(channel))
                        {
                            AddSegment(grids[channel], channel, path, connection, row);
                        }
                    }
                },
                (channel, single) => AddSingle(grids[channel], channel, single),
                (first, last) =>
                {
                    foreach (BucketGrid grid in grids.Values)
                    {
                        grid.AddTicks(first, last);
                    }
                });
            return [.. channels.Select(channel => grids[channel].Result())];
        }
    }

    private static void AddSegment(BucketGrid grid, int channel, string path, SqliteConnection connection, SegmentRow row)
    {
        for (int level = grid.Level; row.Level > 0 && level >= 0 && level < RollupColumn.Widths.Count; level++)
        {
            if (SegmentStore.ReadRollup(connection, path, row.Id, level, channel) is { } rollup)
            {
                grid.Add(rollup);
                return;
            }

            if (row.Raw)
            {
                break; // a slow channel has no seconds: its readings are few enough
            }
        }

        if (row.Raw && SegmentStore.ReadSeries(connection, path, row.Id, channel) is { } column)
        {
            grid.Add(column);
        }
        else if (!row.Raw && grid.Level < 0
            && (SegmentStore.ReadRollup(connection, path, row.Id, RollupColumn.Seconds, channel)
                ?? SegmentStore.ReadRollup(connection, path, row.Id, RollupColumn.Minutes, channel)) is { } left)
        {
            grid.Add(left);
        }
    }

    private static void AddSingle(BucketGrid grid, int channel, StoredReading single)
    {
        if (single.IsLate)
        {
            grid.AddLate(single);
            return;
        }

        var one = new SeriesColumn(channel, single.Version);
        one.Add(EngineInput.OfReading(single.At, channel, single.Reading));
        grid.Add(one);
    }

    /// <summary>Visits every segment over the span, then what is late or still in the journal, month by month.</summary>
    private void Walk(
        IReadOnlyCollection<int> channels, long from, long to, List<string>? damage,
        Action<string, SqliteConnection, SegmentRow> segment, Action<int, StoredReading> single, Action<long, long>? ticks)
    {
        _lateVersions = null;
        foreach ((string path, SqliteConnection connection) in _log.Months())
        {
            LogReader.InOneLook(path, connection, () =>
            {
                foreach (SegmentRow row in SegmentStore.Rows(connection, from, to))
                {
                    if (row is { Tick0: { } first, Tick1: { } last })
                    {
                        ticks?.Invoke(first, last);
                    }

                    try
                    {
                        segment(path, connection, row);
                    }
                    catch (StoreException exception) when (damage is not null && exception.Trouble == StoreTrouble.Damaged)
                    {
                        damage.Add(exception.Message);
                    }
                }

                foreach ((EngineInput late, int version) in SegmentStore.ReadLateVersions(connection, path, channels.Count == 1 ? channels.First() : null, from, to))
                {
                    if (late.Kind is InputKind.Sample or InputKind.Fault && channels.Contains(late.Channel))
                    {
                        single(late.Channel, new StoredReading(late.Time, late.Reading, version, true));
                    }
                }

                List<EngineInput> journal = MonthFile.ReadJournal(connection, path, 0);
                foreach (ref readonly EngineInput input in CollectionsMarshal.AsSpan(journal))
                {
                    if (input.Time.Nanoseconds < from || input.Time.Nanoseconds >= to)
                    {
                        continue;
                    }

                    if (input.Kind == InputKind.Tick)
                    {
                        ticks?.Invoke(input.Time.Nanoseconds, input.Time.Nanoseconds);
                    }
                    else if (input.Kind is InputKind.Sample or InputKind.Fault && channels.Contains(input.Channel))
                    {
                        single(input.Channel, new StoredReading(input.Time, input.Reading, VersionOf(input.Channel), input.IsLate));
                    }
                }

                return 0;
            });
        }
    }

    /// <summary>The calibration version in force at the end of the log, which is that of the journal's unsealed readings.</summary>
    private int VersionOf(int channel)
    {
        if (_lateVersions is null)
        {
            var versions = new Dictionary<int, int>();
            StoredBench? bench = Records("SELECT number, time, hash, json FROM bench ORDER BY number DESC LIMIT 1", ReadBench).FirstOrDefault();
            foreach (Measurement.Channels.ChannelDefinition definition in bench?.Bench.Channels ?? [])
            {
                versions[definition.Key] = definition.Calibration.Version;
            }

            foreach ((int key, int version) in Records(
                "SELECT channel, max(version) FROM calibration GROUP BY channel",
                reader => (reader.GetInt32(0), reader.GetInt32(1))))
            {
                versions[key] = Math.Max(version, versions.GetValueOrDefault(key));
            }

            _lateVersions = versions;
        }

        return _lateVersions.GetValueOrDefault(channel, 1);
    }
}
