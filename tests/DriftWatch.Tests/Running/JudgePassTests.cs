using System.Text;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Running;
using DriftWatch.Tests.Watch.Support;

namespace DriftWatch.Tests.Running;

/// <summary>A recording through the engine: the lines it writes, what it counts, and how it tells of its progress.</summary>
public sealed class JudgePassTests
{
    [Fact]
    public void It_writes_the_lines_of_the_engine_one_a_line_of_json()
    {
        List<EngineInput> inputs = RandomNights.Make(4711);
        (JudgeSummary summary, string text, _) = Judge(inputs);
        string[] expected = [.. Night.Judge(inputs).Select(PipelineBench.Text)];
        Assert.Equal(expected, text.Split('\n')[..^1]);
        Assert.EndsWith("\n", text, StringComparison.Ordinal);
        Assert.Equal(expected.Length, summary.Lines);
    }

    [Fact]
    public void It_counts_inputs_readings_faults_and_what_was_raised()
    {
        Night night = new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 10, 50).Series(TestBench.Air, 10, 20, 43);
        night.Fault(20, TestBench.Air, FaultCode.OpenLoop);
        List<EngineInput> inputs = night.Inputs();
        JudgeSummary summary = Judge(inputs).Summary;
        Assert.Equal((inputs.Count, 200L, 1L), (summary.Inputs, summary.Readings, summary.Faults));
        Assert.Equal(1, summary.RaisedByKind[FindingKinds.AirBelowSetpoint]);
        Assert.Equal(1, summary.RaisedByKind[FindingKinds.SensorFault]);
        Assert.DoesNotContain(FindingKinds.Stale, summary.RaisedByKind.Keys);
        Assert.Equal(Severity.Alarm, summary.Worst);
    }

    [Fact]
    public void What_still_lasts_at_the_end_stays_open_as_it_was_that_night()
    {
        string text = Judge(new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 10, 43).Inputs()).Text;
        FindingLine[] below = [.. text.Split('\n')[..^1].Select(l => FindingJson.Read(Encoding.UTF8.GetBytes(l))).Where(l => l.Kind == FindingKinds.AirBelowSetpoint)];
        Assert.NotEmpty(below);
        Assert.All(below, line => Assert.Null(line.End));
        Assert.Contains("\"end\":null", text, StringComparison.Ordinal);
    }

    [Fact]
    public void An_empty_recording_is_an_empty_judgement()
    {
        (JudgeSummary summary, string text, List<double> progress) = Judge([]);
        Assert.Equal((0L, 0L, 0L, 0L, (Severity?)null, ""), (summary.Inputs, summary.Readings, summary.Faults, summary.Lines, summary.Worst, text));
        Assert.Equal([1.0], progress);
    }

    [Fact]
    public void A_bench_file_that_was_read_again_in_the_middle_judges_what_comes_after_it()
    {
        ChannelDefinition air = TestBench.AirChannel();
        BenchDefinition loose = TestBench.Of(air with { Limits = [] }) with { SourceHash = "loose" };
        BenchDefinition strict = TestBench.Of(air) with { SourceHash = "strict" };
        Night night = new Night(loose).Series(TestBench.Air, 0, 20, 43).At(10, EngineInput.OfBench(default, strict));
        FindingLine[] lines = [.. Judge(night.Inputs()).Text.Split('\n')[..^1].Select(l => FindingJson.Read(Encoding.UTF8.GetBytes(l)))];
        FindingLine below = Assert.Single(lines, l => l.Kind == FindingKinds.AirBelowSetpoint && l.Phase == FindingPhase.Raised);
        Assert.Equal((10.0, "strict"), (below.Start.Seconds, below.BenchHash));
        Assert.Equal(["loose", "strict"], lines.Where(l => l.Kind == FindingKinds.BenchInForce).Select(l => l.BenchHash));
    }

    [Fact]
    public void Progress_rises_to_one_and_is_told_on_the_way()
    {
        List<EngineInput> inputs = Many();
        List<double> progress = Judge(inputs).Progress;
        Assert.True(progress.Count >= 3, "It was told only at the end.");
        Assert.Equal(progress.Order(), progress);
        Assert.InRange(progress[0], 0.01, 0.99);
        Assert.Equal(1, progress[^1]);
    }

    [Fact]
    public void Cancelled_it_stops_on_the_way_with_the_lines_so_far_whole()
    {
        List<EngineInput> inputs = Many();
        using var cancel = new CancellationTokenSource();
        using var source = new ListSource(inputs) { OnRead = at => Cancel(at == 70_000, cancel) };
        using var output = new MemoryStream();
        Assert.Throws<OperationCanceledException>(() => JudgePass.Run(source, output, cancel: cancel.Token));
        Assert.InRange(source.At, 70_000, inputs.Count - 1);
        Assert.All(
            Encoding.UTF8.GetString(output.ToArray()).Split('\n')[..^1],
            line => Assert.NotEmpty(FindingJson.Read(Encoding.UTF8.GetBytes(line)).Id));
    }

    private static void Cancel(bool now, CancellationTokenSource cancel)
    {
        if (now)
        {
            cancel.Cancel();
        }
    }

    private static List<EngineInput> Many() =>
        new Night(TestBench.Of(TestBench.AirChannel())).Series(TestBench.Air, 0, 10, 43).Series(TestBench.Air, 10, 9000, 50).Inputs();

    private static (JudgeSummary Summary, string Text, List<double> Progress) Judge(List<EngineInput> inputs)
    {
        using var source = new ListSource(inputs);
        using var output = new MemoryStream();
        var progress = new List<double>();
        JudgeSummary summary = JudgePass.Run(source, output, new Heard(progress));
        return (summary, Encoding.UTF8.GetString(output.ToArray()), progress);
    }

    private sealed class Heard(List<double> into) : IProgress<double>
    {
        public void Report(double value) => into.Add(value);
    }

    private sealed class ListSource(List<EngineInput> inputs) : IInputSource
    {
        public int At { get; private set; }

        public Action<int>? OnRead { get; init; }

        public double Progress => inputs.Count == 0 ? 1 : (double)At / inputs.Count;

        public IReadOnlyList<string> Notices => [];

        public bool TryRead(out EngineInput input)
        {
            input = At < inputs.Count ? inputs[At] : default;
            OnRead?.Invoke(At);
            return At++ < inputs.Count;
        }

        public void Dispose()
        {
        }
    }
}
