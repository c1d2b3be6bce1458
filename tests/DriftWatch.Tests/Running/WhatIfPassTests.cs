using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Tests.Storage;
using DriftWatch.Tests.Support;
using DriftWatch.Tests.Watch.Support;
using DriftWatch.Watch.Alarms.Health;
using DriftWatch.Watch.Alarms.WhatIf;
using Xunit;

namespace DriftWatch.Tests.Running;

/// <summary>A night judged twice, and a span of a store to be judged.</summary>
public sealed class WhatIfPassTests
{
    private static readonly LimitDefinition Low = new()
    {
        Side = LimitSide.Low, Severity = Severity.Alarm, Value = 8, OnDelay = TimeSpan.FromSeconds(1), OffDelay = TimeSpan.FromSeconds(1), Source = "bench file",
    };

    private static readonly BenchDefinition Bench = TestBench.Of(TestBench.Series(TestBench.Vacuum, "vacuum", ChannelRole.Other, "inH2O") with { Limits = [Low] });

    [Fact]
    public void A_tighter_limit_brings_new_alarms_a_looser_one_takes_them_and_the_same_one_keeps_them()
    {
        Assert.Equal([("below-limit.vacuum", AlarmFate.Kept, 300)], Fates(8));
        Assert.Equal([("below-limit.vacuum", AlarmFate.Kept, 300), ("below-limit.vacuum", AlarmFate.New, 600)], Fates(9.5));
        Assert.Equal([("below-limit.vacuum", AlarmFate.Gone, 300)], Fates(2));
        Assert.Equal([("below-limit.vacuum", AlarmFate.Gone, 300)], Fates(null));
    }

    [Fact]
    public void What_would_have_come_is_the_very_book_that_the_other_bench_writes()
    {
        var change = new LimitChange("vacuum", LimitSide.Low, Severity.Alarm, 9.5);
        using var source = new InputList(Inputs());
        WhatIfResult result = WhatIfPass.Run(source, b => LimitChange.Apply(b, [change]), span: null);
        using var alone = new InputList([.. Inputs().Select(i => i.Kind == InputKind.Bench ? i with { Payload = LimitChange.Apply(i.Bench, [change]) } : i)]);
        using var book = new MemoryStream();
        JudgePass.Run(alone, Stream.Null, book: book);
        Assert.NotEmpty(result.Would);
        using var told = new MemoryStream();
        DriftWatch.Cli.JudgeComparison.Write(told, result.Would);
        Assert.Equal(book.ToArray(), told.ToArray());
    }

    [Fact]
    public void It_ends_when_it_is_told_to_and_rests_on_the_way()
    {
        using var cancel = new CancellationTokenSource();
        int rests = 0;
        using var source = new InputList(Inputs());
        Assert.Throws<OperationCanceledException>(() => WhatIfPass.Run(
            source, b => b, null, progress: null, () => { rests++; cancel.Cancel(); }, cancel.Token));
        Assert.Equal(1, rests);
        Assert.True(source.Progress < 1);
    }

    [Fact]
    public void A_limit_that_is_tried_keeps_all_but_its_value_and_others_stay()
    {
        LimitDefinition high = Low with { Side = LimitSide.High, Value = 20 };
        BenchDefinition bench = Bench with { Channels = [Bench.Channels[0] with { Limits = [Low, high] }] };
        IReadOnlyList<LimitDefinition> Limits(LimitChange change) => LimitChange.Apply(bench, [change]).Channels[0].Limits;
        Assert.Equal([Low with { Value = 7, Source = "tried" }, high], Limits(new LimitChange("vacuum", LimitSide.Low, Severity.Alarm, 7)));
        Assert.Equal([high], Limits(new LimitChange("vacuum", LimitSide.Low, Severity.Alarm, null)));
        Assert.Equal([Low, high], Limits(new LimitChange("other", LimitSide.Low, Severity.Alarm, 7)));
        LimitDefinition added = Limits(new LimitChange("vacuum", LimitSide.Low, Severity.Advisory, 9))[^1];
        Assert.Equal((9, LimitReference.Absolute, TimeSpan.Zero), (added.Value, added.Reference, added.OnDelay));
    }

    [Theory]
    [InlineData(0, 2000)]
    [InlineData(400.05, 700)]
    [InlineData(1500, 1500.5)]
    [InlineData(1990, 5000)]
    public void A_span_of_a_store_begins_with_the_clock_and_the_bench_of_then_and_holds_no_more(double from, double to)
    {
        using var folder = new StoreFolder();
        var inputs = new List<EngineInput>();
        var before = new Night(Bench);
        before.Series(TestBench.Vacuum, 0, 2000, 11);
        before.At(1200, EngineInput.OfBench(default, Bench with { SourceHash = "later" }));
        inputs.AddRange(before.Inputs());
        using (BenchStore store = folder.Open())
        {
            foreach (EngineInput[] chunk in inputs.Chunk(5000))
            {
                store.Append(chunk);
            }
        }

        using var source = new SpanSource(folder.Path, EngineTime.FromSeconds(from), EngineTime.FromSeconds(to));
        var read = new List<EngineInput>();
        while (source.TryRead(out EngineInput input))
        {
            read.Add(input);
        }

        List<EngineInput> expected = [.. inputs.Where(i => i.Time.Seconds >= from && i.Time.Seconds < to)];
        Assert.Equal(expected.Select(i => i.Number), read.Skip(read.Count - expected.Count).Select(i => i.Number));
        Assert.Equal(from > 0 ? 2 : 0, read.Count - expected.Count);
        Assert.Equal([InputKind.Clock, InputKind.Bench], read.Take(2).Select(i => i.Kind));
        Assert.Equal(from > 1200 ? "later" : Bench.SourceHash, read[1].Bench.SourceHash);
        Assert.InRange(source.Progress, 0, 1);
    }

    /// <summary>Vacuum at 5 for a minute from 300 s on, and at 9 from 600 s on.</summary>
    private static List<EngineInput> Inputs() => new Night(Bench)
        .Series(TestBench.Vacuum, 0, 1200, t => t is >= 300 and < 360 ? 5 : t is >= 600 and < 660 ? 9 : 11)
        .Inputs();

    private static List<(string Tag, AlarmFate Fate, int Second)> Fates(double? value)
    {
        var heard = new List<double>();
        using var source = new InputList(Inputs());
        WhatIfResult result = WhatIfPass.Run(
            source, b => LimitChange.Apply(b, [new LimitChange("vacuum", LimitSide.Low, Severity.Alarm, value)]), new UtcStretch(Night.Midnight, Night.Midnight + (long)2e12), new Heard(heard));
        Assert.Equal(1, heard[^1]);
        return [.. result.Alarms.Select(a => (a.Tag, a.Fate, (int)Math.Floor((a.RaisedUtc - Night.Midnight) / 60e9) * 60))];
    }

    private sealed class Heard(List<double> into) : IProgress<double>
    {
        public void Report(double value) => into.Add(value);
    }
}
