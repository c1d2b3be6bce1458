using CsCheck;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Watch;
using Xunit;

namespace DriftWatch.Tests.Watch;

public class SnapshotTests
{
    /// <summary>CsCheck prints the seed of a failing case.</summary>
    [Fact]
    public void Restored_at_any_inputs_the_engine_says_the_same_lines_to_the_byte() =>
        Gen.Select(Gen.ULong, Gen.Int[1, 400]).Sample(
            (seed, stride) =>
            {
                List<EngineInput> inputs = RandomNights.Make(seed);
                List<FindingLine> judged = Night.Judge(inputs);
                string whole = Text(judged);

                // The store keeps a line once by these three: two that share them would be one there, and two when judged.
                Assert.Equal(judged.Count, judged.DistinctBy(l => (l.Id, l.Phase, l.Input)).Count());
                var engine = new WatchEngine();
                var lines = new List<FindingLine>();
                for (int i = 0; i < inputs.Count; i++)
                {
                    engine.Apply(inputs[i], lines);
                    if (i % stride == 0)
                    {
                        byte[] snapshot = engine.Snapshot();
                        Assert.True(WatchEngine.TryRestore(snapshot, out engine, out string whyNot), whyNot);
                        Assert.Equal(snapshot, engine.Snapshot());
                    }
                }

                Assert.Equal(whole, Text(lines));
                Assert.Equal(inputs[^1].Number, engine.LastNumber);
            },
            iter: 60);

    [Fact]
    public void Restored_after_every_single_input_nothing_changes()
    {
        List<EngineInput> inputs = RandomNights.Make(20260301);
        string whole = Text(Night.Judge(inputs));
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        foreach (EngineInput input in inputs.Take(1500))
        {
            engine.Apply(input, lines);
            Assert.True(WatchEngine.TryRestore(engine.Snapshot(), out engine, out string whyNot), whyNot);
        }

        foreach (EngineInput input in inputs.Skip(1500))
        {
            engine.Apply(input, lines);
        }

        Assert.Equal(whole, Text(lines));
    }

    [Fact]
    public void An_alien_a_newer_and_a_damaged_snapshot_are_refused_with_a_reason()
    {
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        foreach (EngineInput input in new Night(TestBench.Full()).Series(TestBench.Air, 0, 10, 50).Inputs())
        {
            engine.Apply(input, lines);
        }

        byte[] sound = engine.Snapshot();
        Assert.False(WatchEngine.TryRestore("SQLite format 3"u8.ToArray(), out _, out string alien));
        Assert.Contains("no snapshot", alien, StringComparison.Ordinal);
        Assert.False(WatchEngine.TryRestore([], out _, out _));

        byte[] newer = [.. sound];
        newer[4]++;
        Assert.False(WatchEngine.TryRestore(newer, out WatchEngine fresh, out string version));
        Assert.Contains("version", version, StringComparison.Ordinal);
        Assert.Equal(0, fresh.LastNumber);

        for (int i = 8; i < sound.Length; i += 97)
        {
            byte[] damaged = [.. sound];
            damaged[i] ^= 0x40;
            Assert.False(WatchEngine.TryRestore(damaged, out _, out string whyNot));
            Assert.NotEmpty(whyNot);
        }

        Assert.False(WatchEngine.TryRestore(sound.AsSpan(0, sound.Length / 2), out _, out _));
        Assert.InRange(sound.Length, 100, 200_000);
    }

    private static string Text(IEnumerable<FindingLine> lines) =>
        string.Join('\n', lines.Select(l => System.Text.Encoding.UTF8.GetString(FindingJson.ToUtf8(l))));
}
