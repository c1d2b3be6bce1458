using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>One instrument of a polled line: its channels with their grids, and whether it is up or down.</summary>
internal sealed class PolledDevice
{
    /// <summary>
    /// A fault older than this when it becomes known is stamped with the present instead of its grid instant, or the
    /// merge, which waits 250 ms unless told otherwise, would count it late and leave it unjudged.
    /// </summary>
    private static readonly TimeSpan PunctualFault = TimeSpan.FromMilliseconds(150);

    private readonly List<Slot> _slots = [];
    private readonly List<(RatioFeed Ratio, Slot Of, Slot Over, SampleGrid Grid)> _ratios = [];
    private readonly List<int> _wanted = [];
    private readonly List<Slot> _due = [];
    private PolledReading[] _results = [];
    private EngineTime _tryAgain = EngineTime.MinValue;

    public PolledDevice(
        InstrumentDefinition definition,
        InstrumentProfile profile,
        IReadOnlyList<ChannelDefinition> benchChannels,
        IReadingSink sink,
        EngineTime now,
        Backoff backoff)
    {
        Definition = definition;
        Profile = profile;
        Backoff = backoff;
        foreach (ChannelDefinition channel in benchChannels.Where(c => c.Instrument == definition.Id))
        {
            int input = ProfileInputs.IndexOf(profile, channel);
            _slots.Add(new Slot(new ChannelFeed(channel, sink), input, new SampleGrid(channel.Period, now)));
        }

        foreach (ChannelDefinition channel in benchChannels.Where(c => c.Ratio is not null))
        {
            Slot? of = _slots.Find(s => s.Feed.Channel.Id == channel.Ratio!.Of);
            Slot? over = _slots.Find(s => s.Feed.Channel.Id == channel.Ratio!.Over);
            if (of is not null && over is not null)
            {
                var ratio = new RatioFeed(new ChannelFeed(channel, sink), of.Feed.Channel, over.Feed.Channel);
                _ratios.Add((ratio, of, over, new SampleGrid(channel.Period, now)));
            }
        }
    }

    public InstrumentDefinition Definition { get; }

    public InstrumentProfile Profile { get; }

    public Backoff Backoff { get; }

    public string Id => Definition.Id;

    public bool HasChannels => _slots.Count > 0;

    /// <summary>Made anew with each opened line.</summary>
    public IPolledInstrument? Instrument { get; set; }

    public bool IsUp { get; private set; }

    /// <summary>Failed scans in a row that got no answer at all.</summary>
    public int Timeouts { get; private set; }

    public FaultCode Fault { get; private set; } = FaultCode.Missing;

    public string Reason { get; private set; } = "";

    public long Missed { get; private set; }

    /// <summary>Grid instants of all channels that nobody was free for, also while it was down; from any thread.</summary>
    public long MissedTicks => _slots.Sum(s => s.Grid.Missed);

    /// <summary>When this device next wants the line.</summary>
    public EngineTime Due => IsUp ? NextGrid : _tryAgain;

    public EngineTime NextGrid
    {
        get
        {
            EngineTime next = EngineTime.MaxValue;
            foreach (Slot slot in _slots)
            {
                next = slot.Grid.Next < next ? slot.Grid.Next : next;
            }

            return next;
        }
    }

    /// <summary>Reads what is due, or everything when <paramref name="everything"/>, and posts it.</summary>
    public void Scan(EngineClock clock, bool everything)
    {
        EngineTime now = clock.Now;
        _due.Clear();
        _wanted.Clear();
        foreach (Slot slot in _slots)
        {
            slot.Taken = null;
            if (everything)
            {
                // While it is down its grid goes on with faults; only a scan that succeeds takes the grid over.
                _due.Add(slot);
            }
            else if (slot.Grid.TryTake(now, out EngineTime instant, out int missed))
            {
                if (missed > 0)
                {
                    // One mark for the gap, at its newest instant; the count says how long it was.
                    Missed += missed;
                    slot.Feed.Fail(instant - slot.Feed.Channel.Period, FaultCode.Missing);
                }

                slot.Taken = instant;
                _due.Add(slot);
            }
        }

        foreach (Slot slot in _due)
        {
            _wanted.Add(slot.Input);
        }

        if (_results.Length < _wanted.Count)
        {
            _results = new PolledReading[_wanted.Count];
        }

        Span<PolledReading> results = _results.AsSpan(0, _wanted.Count);
        results.Clear();
        Instrument!.Scan(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_wanted), results);
        for (int i = 0; i < _due.Count; i++)
        {
            PolledReading result = results[i];
            long middle = result.RequestStamp + ((result.ReplyStamp - result.RequestStamp) / 2);
            _due[i].Feed.Post(clock.FromStamp(middle), result.Reading);
            if (everything)
            {
                _due[i].Grid.SkipTo(clock.Now);
            }
        }

        PostRatios(clock.Now, everything);
        Promise();
    }

    public void MarkUp()
    {
        IsUp = true;
        Timeouts = 0;
        Reason = "";
        Backoff.Reset();
    }

    /// <summary>Marks it down from now on, and fails what this scan had taken on. Returns true when this is news.</summary>
    public bool MarkDown(EngineTime now, EngineTime started, FaultCode fault, string reason)
    {
        bool news = IsUp || reason != Reason;
        IsUp = false;
        Fault = fault;
        Reason = reason;
        Timeouts = fault == FaultCode.NoAnswer ? Timeouts + 1 : 0;

        // From start to start: the time that a try takes is part of the wait.
        EngineTime next = started + Backoff.Next();
        EngineTime soonest = now + TimeSpan.FromMilliseconds(50);
        _tryAgain = next > soonest ? next : soonest;
        foreach (Slot slot in _slots)
        {
            if (slot.Taken is EngineTime taken)
            {
                slot.Taken = null;
                if (!(slot.Feed.Last >= taken))
                {
                    slot.Feed.Fail(now - taken <= PunctualFault ? taken : now, fault);
                }
            }
        }

        PostFaults(now);
        return news;
    }

    /// <summary>Wants the line at once: after it was opened.</summary>
    public void TryNow() => _tryAgain = EngineTime.MinValue;

    public void ForgetTimeouts() => Timeouts = 0;

    /// <summary>While down: a fault for every grid instant that has come, one a period, for ever.</summary>
    public void PostFaults(EngineTime now)
    {
        if (IsUp)
        {
            return;
        }

        foreach (Slot slot in _slots)
        {
            FailGrid(slot.Grid, slot.Feed, Fault);
        }

        foreach ((RatioFeed ratio, Slot of, Slot over, SampleGrid grid) in _ratios)
        {
            // Both inputs are gone: what fails the sensor fails the ratio.
            FailGrid(grid, ratio.Feed, Fault);
        }

        Promise();

        void FailGrid(SampleGrid grid, ChannelFeed feed, FaultCode fault)
        {
            while (grid.TryTakeOldest(now, out EngineTime instant))
            {
                if (feed.Last >= instant || now - instant > PunctualFault)
                {
                    grid.CountMissed();
                    if (!(feed.Last >= now - feed.Channel.Period) && grid.Next > now)
                    {
                        feed.Fail(now, fault);
                    }
                }
                else
                {
                    feed.Fail(instant, fault);
                }
            }
        }
    }

    private void PostRatios(EngineTime now, bool everything)
    {
        foreach ((RatioFeed ratio, Slot of, Slot over, SampleGrid grid) in _ratios)
        {
            bool bothRead = _due.Contains(of) && _due.Contains(over);
            if (everything)
            {
                grid.SkipTo(now);
            }
            else if (!grid.TryTake(now, out _, out _))
            {
                continue;
            }

            if (bothRead)
            {
                EngineTime at = of.Feed.Last > over.Feed.Last ? of.Feed.Last!.Value : over.Feed.Last!.Value;
                ratio.Post(at, of.Feed.LastReading, over.Feed.LastReading);
            }
            else
            {
                ratio.Feed.Fail(now, FaultCode.Missing);
            }
        }
    }

    private void Promise()
    {
        foreach (Slot slot in _slots)
        {
            slot.Feed.Promise(slot.Grid.Next);
        }

        foreach ((RatioFeed ratio, Slot of, Slot over, SampleGrid grid) in _ratios)
        {
            ratio.Feed.Promise(grid.Next);
        }
    }

    private sealed class Slot(ChannelFeed feed, int input, SampleGrid grid)
    {
        public ChannelFeed Feed { get; } = feed;

        public int Input { get; } = input;

        public SampleGrid Grid { get; } = grid;

        /// <summary>The grid instant that the scan under way answers for.</summary>
        public EngineTime? Taken { get; set; }
    }
}
