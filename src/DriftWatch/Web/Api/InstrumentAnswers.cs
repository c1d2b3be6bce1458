using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;

namespace DriftWatch.Web.Api;

/// <summary>How the instruments of a bench do. Counts are since this process began, of lines since sampling of them began.</summary>
internal sealed record InstrumentsAnswer(string Bench, string Now, IReadOnlyList<InstrumentHealthAnswer> Items)
{
    public static InstrumentsAnswer Of(IBenchView view)
    {
        Dictionary<string, ChannelNow> now = view.Channels.ToDictionary(c => c.Channel.Id, StringComparer.Ordinal);
        return new InstrumentsAnswer(
            view.Bench.Id, UtcText.FromNanoseconds(view.ToUtcNanoseconds(view.Now)), [.. view.InstrumentHealth.Select(h => InstrumentHealthAnswer.Of(view, h, now))]);
    }
}

/// <summary>
/// One instrument. <c>Standing</c>: good, slow, faulty (a channel's newest reading is a fault), silent (a channel's newest is too old), down, connecting, unheard or
/// unused (no channel hangs on it); <c>Says</c> the same in a sentence. <c>Reach</c> is how it is reached. <c>PerSecond</c> are values, not faults, over the last
/// <c>OverSeconds</c>, null before a whole second is over; <c>MissedTicks</c> is null where nobody asks it, <c>Lines</c> where it sends none.
/// </summary>
internal sealed record InstrumentHealthAnswer(
    string Id,
    string Label,
    string Profile,
    string Reach,
    string Standing,
    string Says,
    string? Line,
    string? Reason,
    string? Since,
    double? RetryInSeconds,
    int Downs,
    int Reconnects,
    string? LastDown,
    string? LastDownAt,
    double? PerSecond,
    double DuePerSecond,
    double OverSeconds,
    long Values,
    long? MissedTicks,
    LinesAnswer? Lines,
    IReadOnlyList<FaultCountAnswer> Faults,
    LastFaultAnswer? LastFault,
    IReadOnlyList<ChannelHealthAnswer> Channels)
{
    /// <summary>A rate below this share of what is due is slow: one reading in ten is missing. Common practice, no source.</summary>
    internal const double SlowBelow = 0.9;

    /// <summary>A rate over less than this is not held against what is due, because one reading more or less then makes much of it. Common practice, no source.</summary>
    internal const double RateSeconds = 10;

    public static InstrumentHealthAnswer Of(IBenchView view, InstrumentHealth health, Dictionary<string, ChannelNow> now)
    {
        ChannelHealthAnswer[] channels = [.. health.Channels.Select(c => ChannelHealthAnswer.Of(view, c, now[c.Channel.Id]))];
        LinkTally? link = health.Link;
        (string standing, string says) = Stand(link, channels);
        return new InstrumentHealthAnswer(
            health.Instrument.Id,
            health.Instrument.Label,
            health.Instrument.Profile,
            ReachOf(health.Instrument.Connection),
            standing,
            says,
            link is null ? null : Slugs.Of(link.Notice.State),
            link?.Notice.Reason,
            Utc(view, link?.Since),
            link?.Notice.RetryIn?.TotalSeconds,
            link?.Downs ?? 0,
            link?.Reconnects ?? 0,
            link?.LastDown,
            Utc(view, link?.LastDownAt),
            channels.All(c => c.PerSecond is null) ? null : channels.Sum(c => c.PerSecond ?? 0),
            channels.Sum(c => c.DuePerSecond),
            channels.Select(c => c.OverSeconds).DefaultIfEmpty(0).Max(),
            channels.Sum(c => c.Values),
            health.Tally?.MissedTicks,
            health.Tally?.Lines is { } lines ? LinesAnswer.Of(lines) : null,
            FaultCountAnswer.Of(health.Channels.SelectMany(c => c.Tally.Faults)),
            channels.Select(c => c.LastFault).OfType<LastFaultAnswer>().MaxBy(f => f.At, StringComparer.Ordinal),
            channels);
    }

    private static (string Standing, string Says) Stand(LinkTally? link, ChannelHealthAnswer[] channels)
    {
        if (channels.Length == 0)
        {
            return ("unused", "No channel of the bench file hangs on it, so it is not asked.");
        }

        switch (link?.Notice.State)
        {
            case null:
                return ("unheard", "Nothing was heard of it yet.");
            case LinkState.Down:
                return ("down", $"Its line is down: {link.Notice.Reason}");
            case LinkState.Connecting:
                return ("connecting", $"Its line is not up yet: {link.Notice.Reason}");
        }

        foreach ((string standing, string what) in (ReadOnlySpan<(string, string)>)[
            ("silent", "No fresh reading of"), ("faulty", "The newest reading is a fault of"), ("slow", "Fewer values than due of")])
        {
            ChannelHealthAnswer[] such = [.. channels.Where(c => c.Standing == standing)];
            if (such.Length > 0)
            {
                return (standing, $"{what} {(such.Length == channels.Length && such.Length > 1 ? "all its channels" : string.Join(", ", such.Select(c => c.Label)))}.");
            }
        }

        return ("good", "Every channel brings fresh values, as many as are due.");
    }

    private static string ReachOf(ConnectionDefinition connection) => connection.Kind switch
    {
        ConnectionKind.Serial => $"serial port {connection.Port}, {connection.Baud} baud {connection.Framing}",
        ConnectionKind.Tcp => $"network, {connection.Host} port {connection.TcpPort}",
        ConnectionKind.I2c => $"I²C bus {connection.Bus}, address 0x{connection.Address:x2}",
        ConnectionKind.Spi => $"SPI bus {connection.Bus}, chip select {connection.Address}",
        _ => "inside this program: no hardware, its numbers are simulated",
    };

    internal static string? Utc(IBenchView view, EngineTime? at) => at is { } known ? UtcText.FromNanoseconds(view.ToUtcNanoseconds(known)) : null;
}

/// <summary>One channel of an instrument: its standing is good, slow, faulty, silent or unheard (no reading yet).</summary>
internal sealed record ChannelHealthAnswer(
    string Id,
    string Label,
    string Standing,
    double? PerSecond,
    double DuePerSecond,
    double OverSeconds,
    long Values,
    IReadOnlyList<FaultCountAnswer> Faults,
    LastFaultAnswer? LastFault)
{
    public static ChannelHealthAnswer Of(IBenchView view, ChannelHealth health, ChannelNow now)
    {
        ReadingTally tally = health.Tally;
        double due = 1 / health.Channel.Period.TotalSeconds;
        return new ChannelHealthAnswer(
            health.Channel.Id,
            health.Channel.Label,
            Stand(now, tally, due),
            tally.PerSecond,
            due,
            tally.OverSeconds,
            tally.Values,
            FaultCountAnswer.Of(tally.Faults),
            tally.LastFault is { } last ? new LastFaultAnswer(health.Channel.Id, last.Fault.ToSlug(), InstrumentHealthAnswer.Utc(view, last.At)!) : null);
    }

    /// <summary>What is old is never anything better, and a fault never a value.</summary>
    private static string Stand(ChannelNow now, ReadingTally tally, double due) =>
        now.Age is not { } age ? "silent"
        : age > now.Channel.StaleAdvisory ? "silent"
        : now.Fault is not null ? "faulty"
        : tally.PerSecond is { } rate && IsSlow(rate, tally.OverSeconds, due) ? "slow"
        : "good";

    /// <summary>A reading that has not come yet of a slow channel is not missing: one is granted.</summary>
    private static bool IsSlow(double rate, double over, double due) =>
        over >= InstrumentHealthAnswer.RateSeconds && ((rate * over) + 1) < due * over * InstrumentHealthAnswer.SlowBelow;
}

/// <summary>Lines of a streaming instrument: taken, of those without a checksum, missing, twice or begun anew by their numbers, and rejected by reason.</summary>
internal sealed record LinesAnswer(
    long Valid, long Unchecked, long SequenceGaps, long SequenceRepeats, long SequenceRestarts, IReadOnlyList<RejectAnswer> Rejects)
{
    public static LinesAnswer Of(LineTally tally) => new(
        tally.Valid,
        tally.Unchecked,
        tally.SequenceGaps,
        tally.SequenceRepeats,
        tally.SequenceRestarts,
        [.. tally.Rejects.OrderByDescending(r => r.Value).Select(r => new RejectAnswer(Slugs.Of(r.Key), r.Value, Words(r.Key)))]);

    private static string Words(LineReject reason) => reason switch
    {
        LineReject.TooLong => "longer than the profile allows",
        LineReject.PartExpired => "the end of the line did not come",
        LineReject.NotPrintable => "a byte that is no printable character",
        LineReject.UnknownTag => "a tag that the profile does not name",
        LineReject.FieldCount => "too many or too few fields",
        LineReject.BadNumber => "a field is no number",
        LineReject.BadSequence => "its number in sequence is none",
        LineReject.BadAngle => "the wheel angle of a frame is none",
        LineReject.NoChecksum => "no checksum",
        _ => "the checksum does not match",
    };
}

/// <summary>Lines rejected for one reason, which <c>Words</c> say.</summary>
internal sealed record RejectAnswer(string Reason, long Count, string Words);

internal sealed record FaultCountAnswer(string Fault, long Count)
{
    /// <summary>The most frequent first.</summary>
    public static IReadOnlyList<FaultCountAnswer> Of(IEnumerable<KeyValuePair<FaultCode, long>> faults) =>
    [
        .. faults.GroupBy(f => f.Key).Select(g => new FaultCountAnswer(g.Key.ToSlug(), g.Sum(f => f.Value)))
            .OrderByDescending(f => f.Count).ThenBy(f => f.Fault, StringComparer.Ordinal),
    ];
}

internal sealed record LastFaultAnswer(string Channel, string Fault, string At);
