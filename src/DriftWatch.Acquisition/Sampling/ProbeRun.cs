using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using Microsoft.Extensions.Logging;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>What one channel said while it was probed.</summary>
/// <param name="Channel">The channel.</param>
/// <param name="Readings">In order of time; values and faults, after the channel's fault rules.</param>
/// <param name="LastFrame">For a frame channel: the newest frame, or null.</param>
public sealed record ProbedChannel(ChannelDefinition Channel, IReadOnlyList<Reading> Readings, Frame? LastFrame);

/// <summary>What one instrument said while it was probed.</summary>
/// <param name="Instrument">The instrument.</param>
/// <param name="Talks">True when it has given a valid reading.</param>
/// <param name="Words">Its identity when it talks; else what was wrong, and the remedy.</param>
/// <param name="Channels">In bench order; ratios stand with the instrument of their inputs.</param>
public sealed record ProbedInstrument(
    InstrumentDefinition Instrument, bool Talks, string Words, IReadOnlyList<ProbedChannel> Channels);

/// <summary>
/// Talks to every instrument of a bench for a few readings. It samples as a watch does, with the same drivers, grids
/// and rules, so that what a probe reads is what a watch will read; nothing is kept.
/// </summary>
public static class ProbeRun
{
    /// <summary>A silent instrument is waited for this long beyond the readings themselves: opening, greeting and two tries.</summary>
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(4);

    /// <param name="bench">The bench.</param>
    /// <param name="profiles">Profiles of its instruments by name.</param>
    /// <param name="readings">Readings wanted of each channel; ≥ 1.</param>
    /// <param name="time">Wall and monotonic time.</param>
    /// <param name="loggers">For the drivers' logs.</param>
    /// <param name="cancel">Ends the probe early.</param>
    public static async Task<IReadOnlyList<ProbedInstrument>> RunAsync(
        BenchDefinition bench,
        IReadOnlyDictionary<string, InstrumentProfile> profiles,
        int readings,
        TimeProvider time,
        ILoggerFactory loggers,
        CancellationToken cancel)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(readings, 1);
        var clock = new EngineClock(time, new EngineTime(0));
        var sink = new ProbeSink(bench);
        using var sampler = new BenchSampler(bench, profiles, clock, sink, loggers);
        TimeSpan longest = bench.Channels.Select(c => c.Period).DefaultIfEmpty(TimeSpan.FromSeconds(1)).Max();
        EngineTime end = clock.Now + (longest * (readings + 1)) + Patience;
        sampler.Start();
        while (clock.Now < end && !sink.HasValues(readings))
        {
            await Task.Delay(TimeSpan.FromMilliseconds(50), time, cancel);
        }

        await sampler.StopAsync(TimeSpan.FromSeconds(2));
        return sink.Result(readings);
    }

    private sealed class ProbeSink : IReadingSink
    {
        private readonly Lock _gate = new();
        private readonly BenchDefinition _bench;
        private readonly Dictionary<int, List<Reading>> _readings;
        private readonly Dictionary<int, Frame> _frames = [];
        private readonly Dictionary<string, (bool Talked, string Words)> _instruments = [];

        public ProbeSink(BenchDefinition bench)
        {
            _bench = bench;
            _readings = bench.Channels.ToDictionary(c => c.Key, _ => new List<Reading>());
        }

        public void Post(int channel, EngineTime at, in Reading reading)
        {
            lock (_gate)
            {
                _readings[channel].Add(reading);
            }
        }

        public void Post(int channel, EngineTime at, Frame frame)
        {
            lock (_gate)
            {
                _frames[channel] = frame;
            }
        }

        public void Promise(int channel, EngineTime nothingBefore)
        {
        }

        public void Report(InstrumentNotice notice)
        {
            lock (_gate)
            {
                bool talked = _instruments.TryGetValue(notice.Instrument, out (bool Talked, string Words) before) && before.Talked;
                _instruments[notice.Instrument] = notice.State switch
                {
                    LinkState.Talking => (true, notice.Reason),
                    LinkState.Down => (talked, notice.Reason),
                    _ => (talked, talked ? before.Words : "it said nothing"),
                };
            }
        }

        /// <summary>True when every channel has so many values, or frames, or the faults of an instrument that talks.</summary>
        public bool HasValues(int readings)
        {
            lock (_gate)
            {
                return _bench.Channels.All(c => _frames.ContainsKey(c.Key)
                    || _readings[c.Key].Count(r => !r.IsFault) >= readings
                    || (InstrumentOf(c) is string id && Talks(id) && _readings[c.Key].Count >= readings + 5));
            }
        }

        public IReadOnlyList<ProbedInstrument> Result(int readings)
        {
            lock (_gate)
            {
                return [.. _bench.Instruments.Select(instrument => new ProbedInstrument(
                    instrument,
                    Talks(instrument.Id),
                    _instruments.TryGetValue(instrument.Id, out (bool Talked, string Words) state) ? state.Words : "no channel of the bench uses it",
                    [.. _bench.Channels
                        .Where(c => InstrumentOf(c) == instrument.Id)
                        .Select(c => new ProbedChannel(c, Newest(c, readings), _frames.GetValueOrDefault(c.Key)))]))];
            }
        }

        /// <summary>The last values; faults only where there is no value, or after it.</summary>
        private List<Reading> Newest(ChannelDefinition channel, int readings)
        {
            List<Reading> all = _readings[channel.Key];
            int firstValue = all.FindIndex(r => !r.IsFault);
            return [.. all.Skip(Math.Max(0, firstValue)).TakeLast(readings)];
        }

        private string? InstrumentOf(ChannelDefinition channel) =>
            channel.Instrument ?? _bench.Channels.FirstOrDefault(c => c.Id == channel.Ratio?.Of)?.Instrument;

        private bool Talks(string instrument) => _instruments.TryGetValue(instrument, out (bool Talked, string Words) state) && state.Talked;
    }
}
