using System.Text.Json;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Watch.Judges;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch;

public sealed partial class WatchEngine
{
    /// <summary>
    /// A bench comes into force. A channel whose definition is the same but for words keeps all it knows; a changed or
    /// removed one is out of service and its findings end; a new one begins.
    /// </summary>
    private void OnBench(BenchDefinition bench, byte[] json)
    {
        bool isNews = _bench is null || _bench.Id != bench.Id || _bench.SourceHash != bench.SourceHash;
        ChannelWatch[] former = _channels;
        var kept = new List<ChannelWatch>();
        foreach (ChannelWatch old in former)
        {
            ChannelDefinition? same = bench.Channels.FirstOrDefault(c => c.Key == old.Definition.Key && IsSame(c, old.Definition));
            if (same is null)
            {
                old.OutOfService(_context); // said under the bench that raised it
            }
            else
            {
                old.Definition = same;
                kept.Add(old);
            }
        }

        ChannelWatch[] channels = [.. bench.Channels.Select(c =>
            kept.Find(k => k.Definition.Key == c.Key) ?? New(c, former.FirstOrDefault(f => f.Definition.Key == c.Key)))];
        _context.Quantities.Seat(_context, bench.Quantities); // before the new bench is named: what ends, ends under the old one
        Seat(bench, json, channels);
        SeatWatched();
        _wear.Seat(_context, bench);
        foreach (InstrumentWatch instrument in _instruments)
        {
            instrument.OnTick(_context); // one that lost its channels ends
        }

        if (!isNews)
        {
            return;
        }

        _context.Desk.Note(new FindingFacts
        {
            Kind = FindingKinds.BenchInForce,
            Start = _context.Now,
            Cause = former.Length == 0 ? "first" : "reloaded",
            Text = $"Bench '{bench.Label}' with {bench.Channels.Count} channels is in force.",
            Details = [new FindingDetail("channels", bench.Channels.Count)],
        });
        List<FindingDetail> missing = MissingRoles.Of(_context.Roles);
        if (missing.Count > 0)
        {
            _context.Desk.Note(new FindingFacts
            {
                Kind = FindingKinds.CannotTell,
                Start = _context.Now,
                Cause = "no-channel",
                Text = "This bench has no channel for some roles; what can't be told without them is listed in the details.",
                Details = missing,
            });
        }
    }

    private ChannelWatch New(ChannelDefinition definition, ChannelWatch? former)
    {
        var channel = new ChannelWatch(definition);
        channel.BeginWatching(_context.Now);
        if (former is not null && JsonOf(definition.Calibration) == JsonOf(former.Definition.Calibration))
        {
            channel.KeepCalibrationOf(former); // the bench file did not touch it, so what was entered holds on
        }

        return channel;
    }

    /// <summary>Puts channels and instruments in their places; a pure function of the bench, so that a snapshot finds the same seats.</summary>
    private void Seat(BenchDefinition bench, byte[] json, ChannelWatch[] channels)
    {
        _bench = bench;
        _benchJson = json;
        _channels = channels;
        _byKey = new ChannelWatch?[channels.Length == 0 ? 0 : channels.Max(c => c.Definition.Key) + 1];
        foreach (ChannelWatch channel in channels)
        {
            _byKey[channel.Definition.Key] = channel;
            channel.Instrument = null;
        }

        // Instruments that are gone stay seated while a finding of theirs lasts, to be ended by the caller.
        InstrumentWatch[] old = _instruments;
        foreach (InstrumentWatch instrument in old)
        {
            instrument.Members = [];
        }

        var seated = new List<InstrumentWatch>();
        foreach (InstrumentDefinition definition in bench.Instruments)
        {
            InstrumentWatch instrument = Array.Find(old, i => i.Id == definition.Id) ?? new InstrumentWatch(definition.Id);
            instrument.Label = definition.Label;
            instrument.Members = [.. channels.Where(c => InstrumentOf(bench, c.Definition) == definition.Id && !c.IsFrame)];
            foreach (ChannelWatch channel in channels.Where(c => InstrumentOf(bench, c.Definition) == definition.Id))
            {
                channel.Instrument = instrument.Members.Count > 1 ? instrument : null;
            }

            seated.Add(instrument);
        }

        foreach (InstrumentWatch gone in old.Except(seated))
        {
            gone.OutOfService(_context);
        }

        _instruments = [.. seated];
        _context.Roles = new RoleMap(channels);
        _context.Settings = bench.Judgement;
        _context.VacuumPercentPerPsi = bench.Machine.VacuumPercentPerPsi;
        _context.Desk.Use(bench.Id, bench.SourceHash);
    }

    private void SeatWatched()
    {
        _context.Watched = [.. _channels, .. _context.Quantities.All];
        _causes.Seat(Watched);
    }

    /// <summary>A ratio hangs on the instrument that measures its numerator.</summary>
    private static string? InstrumentOf(BenchDefinition bench, ChannelDefinition channel) =>
        channel.Instrument ?? (channel.Ratio is { } ratio ? bench.Channels.FirstOrDefault(c => c.Id == ratio.Of)?.Instrument : null);

    /// <summary>Equal but for words for people. Records compare lists by reference, so the JSON decides.</summary>
    private static bool IsSame(ChannelDefinition left, ChannelDefinition right) =>
        ReferenceEquals(left, right) || JsonOf(left with { Label = "", Aliases = [] }) == JsonOf(right with { Label = "", Aliases = [] });

    private static string JsonOf<T>(T value) => JsonSerializer.Serialize(value);
}
