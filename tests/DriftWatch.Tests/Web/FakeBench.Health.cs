using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Storage;

namespace DriftWatch.Tests.Web;

/// <summary>How the fake's instrument and store do: everything that is due comes, unless the test says otherwise.</summary>
public sealed partial class FakeBench
{
    /// <summary>Values a second of a channel, instead of what is due.</summary>
    public Dictionary<string, double> Rates { get; } = new(StringComparer.Ordinal);

    /// <summary>Faults that a channel has brought, and when the last of them came: it is of the first kind.</summary>
    public Dictionary<string, ((FaultCode Fault, long Count)[] Counts, EngineTime At)> FaultsOf { get; } = new(StringComparer.Ordinal);

    public InstrumentTally? Tally { get; set; }

    internal LinkTally? Link { get; set; }

    public StoreFacts? Facts { get; set; } = new(
        1000, 5000, 100, IsFull: false, 24, null, ["2026-03", "2026-04"], new DateTimeOffset(2026, 3, 1, 0, 0, 0, TimeSpan.Zero), null, []);

    internal FileCheck? Check { get; set; }

    IReadOnlyList<InstrumentHealth> IBenchView.InstrumentHealth =>
    [
        .. Bench.Instruments.Select(i => new InstrumentHealth(
            i,
            Link ?? (Instruments.FirstOrDefault(n => n.Instrument == i.Id) is { } notice ? LinkTally.First(notice, Now) : null),
            Tally,
            [.. Bench.Channels.Where(c => c.Instrument == i.Id).Select(c => new ChannelHealth(c, TallyOf(c)))])),
    ];

    IReadOnlyList<DriftWatch.Mirror.MirrorReport> IBenchView.Mirrors => Mirrors;

    /// <summary>What the page is shown of mirrors.</summary>
    internal IReadOnlyList<DriftWatch.Mirror.MirrorReport> Mirrors { get; set; } = [];

    StoreHealth IBenchView.StoreHealth => new(Facts, Check, 123);

    private ReadingTally TallyOf(ChannelDefinition channel)
    {
        double rate = Rates.GetValueOrDefault(channel.Id, 1 / channel.Period.TotalSeconds);
        ((FaultCode Fault, long Count)[] Counts, EngineTime At)? faults = FaultsOf.TryGetValue(channel.Id, out var told) ? told : null;
        return new ReadingTally(
            (long)(3600 * rate),
            rate,
            60,
            faults?.Counts.ToDictionary(f => f.Fault, f => f.Count) ?? [],
            faults is { } some ? (some.Counts[0].Fault, some.At) : null);
    }
}
