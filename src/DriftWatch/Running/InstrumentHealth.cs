using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;

namespace DriftWatch.Running;

/// <summary>How one instrument does: its line, what was counted of it, and what each of its channels brings.</summary>
/// <param name="Instrument">As the bench file has it.</param>
/// <param name="Link">Null before anything was heard of it.</param>
/// <param name="Tally">Null where nothing is counted beside its readings.</param>
/// <param name="Channels">Those that hang on it, ratios of them too.</param>
internal sealed record InstrumentHealth(InstrumentDefinition Instrument, LinkTally? Link, InstrumentTally? Tally, IReadOnlyList<ChannelHealth> Channels)
{
    public static IReadOnlyList<InstrumentHealth> Of(
        BenchDefinition bench, ReadingIntake intake, IReadOnlyList<InstrumentTally> tallies, EngineTime now) =>
    [
        .. bench.Instruments.Select(instrument => new InstrumentHealth(
            instrument,
            intake.Link(instrument.Id),
            tallies.FirstOrDefault(t => t.Instrument == instrument.Id),
            [
                .. bench.Channels.Where(c => InstrumentOf(bench, c) == instrument.Id)
                    .Select(c => new ChannelHealth(c, intake.Tally(c.Key, now))),
            ])),
    ];

    /// <summary>A ratio is formed where its two channels are read.</summary>
    private static string? InstrumentOf(BenchDefinition bench, ChannelDefinition channel) =>
        channel.Ratio is { } ratio ? bench.Channels.FirstOrDefault(c => c.Id == ratio.Of)?.Instrument : channel.Instrument;
}

internal sealed record ChannelHealth(ChannelDefinition Channel, ReadingTally Tally);

/// <summary>How the store of a bench does.</summary>
/// <param name="Facts">Null when its folder can't be looked at.</param>
/// <param name="LastCheck">Null before closed months were first verified.</param>
/// <param name="LastInput">Number of the last input stored.</param>
internal sealed record StoreHealth(StoreFacts? Facts, FileCheck? LastCheck, long LastInput);
