using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;

namespace DriftWatch.SystemTests.Storage;

/// <summary>A real file system of a few megabytes, filled to the last byte. Needs the right to mount, so it runs as root on Linux only.</summary>
public sealed class FullDiskTests
{
    [RootOnLinuxFact]
    public void A_full_disk_refuses_the_batch_and_the_same_process_goes_on_when_room_returns()
    {
        string mount = Directory.CreateTempSubdirectory("driftwatch-full-").FullName;
        using (SmallDisk disk = SmallDisk.Mount(mount, megabytes: 6))
        {
            string folder = Path.Combine(mount, "bench");
            EngineInput[][] batches = [.. Log(4000).Chunk(400)];
            using (BenchStore store = BenchStore.Open(folder, new BenchStoreOptions
            {
                BallastBytes = 1 << 20,
                Retention = new() { FreeSpaceFloorBytes = 0 },
            }))
            {
                store.Append(batches[0]);
                disk.Fill();
                int stored = 1;
                StoreException full = Assert.Throws<StoreException>(() =>
                {
                    for (; stored < batches.Length; stored++)
                    {
                        store.Append(batches[stored]);
                    }
                });
                Assert.Equal(StoreTrouble.DiskFull, full.Trouble);
                long acknowledged = batches[stored - 1][^1].Number;
                Assert.Equal(acknowledged, store.LastNumber);
                Assert.Equal(acknowledged, store.ReadInputs(0).LongCount());
                Assert.True(store.IsFull);

                store.RetainDue(); // gives the ballast up: a megabyte for whoever has to clean up
                Assert.False(File.Exists(Path.Combine(folder, "ballast.bin")));
                store.Append(batches[stored++]);

                disk.Free();
                foreach (EngineInput[] batch in batches[stored..])
                {
                    store.Append(batch);
                }

                Assert.False(store.IsFull);
            }

            using BenchStore again = BenchStore.Open(folder, new BenchStoreOptions { BallastBytes = 0, Retention = new() { FreeSpaceFloorBytes = 0 } });
            Assert.Empty(again.SetAsideFiles);
            Assert.Equal(batches[^1][^1].Number, again.ReadInputs(0).LongCount());
        }

        Directory.Delete(mount);
    }

    private static IEnumerable<EngineInput> Log(int seconds)
    {
        long number = 0;
        yield return EngineInput.OfClock(default, new ClockEvent(
            ClockEventKind.Started, new TimeAnchor(default, UtcText.ToNanoseconds(new DateTimeOffset(2026, 3, 14, 12, 0, 0, TimeSpan.Zero))))) with { Number = ++number };
        for (int i = 1; i <= seconds * 10; i++)
        {
            var at = new EngineTime(i * EngineTime.TickGridNanoseconds);
            yield return EngineInput.OfReading(at, 0, Reading.Of(Math.Sqrt(i))) with { Number = ++number };
            yield return EngineInput.OfTick(at) with { Number = ++number };
        }
    }
}

/// <summary>Skips where the test could not be run, and says so.</summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class RootOnLinuxFactAttribute : FactAttribute
{
    public RootOnLinuxFactAttribute()
    {
        if (!OperatingSystem.IsLinux() || !Environment.IsPrivilegedProcess)
        {
            Skip = "Mounts a small file system: run as root on Linux.";
        }
    }
}
