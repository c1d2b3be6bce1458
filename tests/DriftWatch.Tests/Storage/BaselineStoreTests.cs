using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Storage.Queries;
using Xunit;

namespace DriftWatch.Tests.Storage;

public sealed class BaselineStoreTests : IDisposable
{
    private readonly StoreFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_baseline_comes_back_as_it_was_once_however_often_it_is_judged()
    {
        TakenBaseline first = Make(5, 0, 50);
        TakenBaseline second = Make(9, 7, 50.25) with { Transfer = "reel 7", Unwell = ["limit", "off-setpoint"], By = "Ida Ström", Standing = BaselineStanding.Confirmed };
        using (BenchStore store = _folder.Open())
        {
            store.CommitJudged(5, [1], "build", [Line(first)]);
            store.CommitJudged(9, [1], "build", [Line(first), Line(second)]);
        }

        using BenchStore again = _folder.Open();
        using BenchReader reader = again.OpenReader();
        IReadOnlyList<TakenBaseline> read = reader.Baselines();
        Assert.Equal(2, read.Count);
        Same(first, read[0]);
        Same(second, read[1]);
    }

    [Theory]
    [InlineData("v1", 0)]
    [InlineData("v2", 1)]
    public void A_folder_of_every_version_tells_its_baselines_unopened_and_brought_forward(string version, int count)
    {
        foreach (string file in Directory.GetFiles(Path.Combine(VersionOneTests.Fixtures, version)))
        {
            File.Copy(file, Path.Combine(_folder.Path, Path.GetFileName(file)));
        }

        using (var untouched = new BenchReader(_folder.Path))
        {
            Assert.Equal(count, untouched.Baselines().Count);
        }

        using BenchStore store = _folder.Open();
        store.CommitJudged(300, [1], "build", [Line(Make(300, 1, 50))]);
        using BenchReader reader = store.OpenReader();
        Assert.Equal(count + 1, reader.Baselines().Count);
    }

    internal static TakenBaseline Make(long number, double days, double airPsi) => new()
    {
        Number = number,
        At = EngineTime.FromSeconds(86_400 * days),
        UtcNanoseconds = UtcText.ToNanoseconds(new DateTimeOffset(2026, 3, 1, 20, 0, 0, TimeSpan.Zero).AddDays(days)),
        Bench = "west-bench",
        BenchHash = "00ff",
        State = MachineState.Locked,
        By = "automatic",
        Standing = BaselineStanding.Stable,
        Values =
        [
            new BaselineValue("regulated-air", "psi", airPsi, 0.05, 0.5, 9.67, 300, 1),
            new BaselineValue("rf-head-2", "dB", -10 - (0.03 * days), 0.12, 0.2, 18, 300, 2),
            new BaselineValue("rf-spread", "dB", 0.1 + 0.2, null, null, null, 300, null),
        ],
    };

    internal static FindingLine Line(TakenBaseline baseline) =>
        BenchStoreTests.Line("baseline-" + baseline.Number, FindingPhase.Raised, baseline.Number) with { Kind = FindingKinds.BaselineTaken, Baseline = baseline };

    private static void Same(TakenBaseline expected, TakenBaseline actual)
    {
        Assert.Equal(expected.Values, actual.Values);
        Assert.Equal(expected.Unwell, actual.Unwell);
        Assert.Equal(expected, actual with { Values = expected.Values, Unwell = expected.Unwell });
    }
}
