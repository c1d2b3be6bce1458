using DriftWatch.Measurement.Benches;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;

namespace DriftWatch.Storage;

/// <summary>How a bench folder is kept.</summary>
public sealed record BenchStoreOptions
{
    /// <summary>Only asked for the hourly copy and for the names of files set aside; readings carry their own time.</summary>
    public TimeProvider TimeProvider { get; init; } = TimeProvider.System;

    public ILogger Logger { get; init; } = NullLogger.Instance;

    /// <summary>How long raw readings and rollups are kept, and the floor of free space.</summary>
    public RetentionDefinition Retention { get; init; } = new();

    /// <summary>
    /// Size of the file that is given up so that old months can be deleted on a full disk: deleting from a database
    /// takes room too. Default 4 MiB, as measured to be enough; 0 keeps none.
    /// </summary>
    public long BallastBytes { get; init; } = 4L << 20;

    /// <summary>Time between two copies of the records file; default one hour.</summary>
    public TimeSpan RecordsCopyEvery { get; init; } = TimeSpan.FromHours(1);

    /// <summary>Free bytes where the folder lies; a test puts its own numbers here.</summary>
    internal Func<string, long> FreeSpace { get; init; } = static folder => new DriveInfo(folder).AvailableFreeSpace;

    /// <summary>A limit of SQLite pages on the live month file; a test makes 'disk full' with it. 0: none.</summary>
    internal int MaximumPages { get; init; }

    /// <summary>Pages after which the write-ahead log is copied into its file; 0 never, for tests that cut it.</summary>
    internal int CheckpointPages { get; init; } = 1000;
}
