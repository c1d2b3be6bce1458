using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Running;
using DriftWatch.Watch;
using DriftWatch.Watch.Quantities;

namespace DriftWatch.Reports.Dossiers;

/// <summary>
/// One walk over a span of the log: sums up every channel, hashes the exact log, and works the derived quantities out again by
/// the engine that judges, since the store keeps readings and not what follows from them.
/// </summary>
internal sealed class DossierPass
{
    private const int FramesOfATurn = 6; // a minute where there is a frame each ten seconds; our own choice
    private static readonly TimeSpan QuantityEvery = TimeSpan.FromSeconds(1);

    private readonly BenchDefinition _bench;
    private readonly Func<long, bool> _inRun;
    private readonly EngineeringValues _values;
    private readonly WatchEngine _engine = new();
    private readonly SummaryBuilder[] _channels;
    private readonly SummaryBuilder[] _quantities;
    private readonly Dictionary<int, SummaryBuilder> _byKey = [];
    private readonly Dictionary<int, ChannelDefinition> _frames = [];
    private readonly Dictionary<int, (List<double[]> First, Queue<double[]> Last)> _turns = [];
    private readonly SortedDictionary<(int Channel, int Version), Calibration> _used = [];
    private readonly List<FindingLine> _lines = [];
    private readonly List<AlarmTransition> _alarms = [];
    private long _readings;
    private long _faults;
    private long _late;
    private bool _isInRun;

    /// <param name="bench">In whose channels and units all is told.</param>
    /// <param name="inRun">Whether an instant, UTC in nanoseconds, lies in the run.</param>
    public DossierPass(BenchDefinition bench, Func<long, bool> inRun)
    {
        _bench = bench;
        _inRun = inRun;
        _values = new EngineeringValues(bench.Channels);
        _channels = [.. bench.Channels.Where(c => c.Kind == ChannelKind.Series).Select(c => new SummaryBuilder(c, isDerived: false))];
        _quantities = [.. bench.Quantities.Select(q => SummaryBuilder.Of(q, IsOfFrames(q.Kind) ? FramesEvery(bench) : QuantityEvery))];
    }

    public IEnumerable<SummaryBuilder> Summaries => _channels.Concat(_quantities);

    /// <summary>What turned the readings of the run, by channel and version; without the documents that the store keeps beside them.</summary>
    public IReadOnlyDictionary<(int Channel, int Version), Calibration> CalibrationsUsed => _used;

    /// <summary>Reads the feed to its end and gives what is known of the record.</summary>
    /// <exception cref="InvalidDataException">Inputs are missing, or there are none.</exception>
    public RecordFacts Read(IInputSource feed, CancellationToken cancel)
    {
        using var text = new HashingStream(Stream.Null);
        long first = -1;
        long last = -1;
        long lent = 0;
        long inputs = 0;
        using (var log = new EngineLogWriter(text, gzip: false))
        {
            while (feed.TryRead(out EngineInput input))
            {
                if (last >= 0 && input.Number != last + 1)
                {
                    throw new InvalidDataException(
                        $"Inputs {last + 1} to {input.Number - 1} of this span are missing (a damaged file was set aside): choose a span without them.");
                }

                last = input.Number;
                first = first < 0 ? input.Number : first;
                lent += IsLent(feed, input) ? 1 : 0;
                log.Write(input);
                Take(input);
                if ((++inputs & 0xffff) == 0)
                {
                    cancel.ThrowIfCancellationRequested();
                }
            }

            log.Complete();
        }

        return inputs == 0
            ? throw new InvalidDataException("Nothing was recorded in this span: choose one in which the bench was watched ('driftwatch plot' shows when).")
            : new RecordFacts(text.Sha256, text.Bytes, inputs, first + lent, last, _readings, _faults, _late);
    }

    /// <summary>The mean of the run's first and of its last frames, of every frame channel.</summary>
    public IEnumerable<TurnPicture> Turns()
    {
        foreach ((int key, (List<double[]> first, Queue<double[]> last)) in _turns.OrderBy(t => t.Key))
        {
            yield return Picture(_frames[key], "at the run's begin", first);
            if (last.Count == FramesOfATurn)
            {
                yield return Picture(_frames[key], "at the run's end", [.. last]);
            }
        }
    }

    private static bool IsOfFrames(QuantityKind kind) => kind is QuantityKind.Skew or QuantityKind.Scallop or QuantityKind.HeadStep or QuantityKind.AsyncResidual;

    private static TimeSpan FramesEvery(BenchDefinition bench) =>
        bench.Channels.Where(c => c.Kind == ChannelKind.Frame).Select(c => c.Period).Append(QuantityEvery).Max();

    private static TurnPicture Picture(ChannelDefinition channel, string when, List<double[]> frames) =>
        new(channel, when, frames.Count, [.. Enumerable.Range(0, frames[0].Length).Select(i => frames.Average(f => f[i]))]);

    /// <summary>Clock, bench and what was out of service stand before a stretch from the middle of a log.</summary>
    private static bool IsLent(IInputSource feed, in EngineInput input) => feed is SpanSource span && input.Number < span.FirstNumber;

    private void Take(in EngineInput input)
    {
        _lines.Clear();
        _alarms.Clear();
        _engine.Apply(input, _lines, _alarms);
        _values.Follow(input);
        switch (input.Kind)
        {
            case InputKind.Bench:
                MatchKeys(input.Bench);
                NoteCalibrations();
                break;
            case InputKind.Calibration:
                NoteCalibrations();
                break;
            case InputKind.Sample or InputKind.Fault or InputKind.Frame:
                _readings += input.Kind == InputKind.Fault ? 0 : 1;
                _faults += input.Kind == InputKind.Fault ? 1 : 0;
                _late += input.IsLate ? 1 : 0;
                TakeReading(input);
                break;
            case InputKind.Tick when input.Time.Nanoseconds % (QuantityEvery.Ticks * 100) == 0:
                TakeQuantities(input.Time);
                break;
        }
    }

    private void TakeReading(in EngineInput input)
    {
        bool inRun = _inRun(_values.UtcOf(input.Time));
        if (inRun != _isInRun)
        {
            _isInRun = inRun;
            NoteCalibrations();
        }

        if (input.Kind == InputKind.Frame)
        {
            if (inRun && _engine.State == MachineState.Locked && _frames.ContainsKey(input.Channel))
            {
                KeepFrame(input);
            }
        }
        else if (_byKey.TryGetValue(input.Channel, out SummaryBuilder? summary))
        {
            if (_values.TryConvert(input.Channel, input.Reading, out double value, out double least, out double greatest))
            {
                summary.Add(input.Time, value, least, greatest, inRun);
            }
            else
            {
                summary.AddFault(input.Time, inRun);
            }
        }
    }

    private void NoteCalibrations()
    {
        if (!_isInRun)
        {
            return;
        }

        foreach (ChannelDefinition channel in _bench.Channels)
        {
            if (_values.CalibrationOf(channel.Key) is { } calibration)
            {
                _used[(channel.Key, calibration.Version)] = calibration;
            }
        }
    }

    private void KeepFrame(in EngineInput input)
    {
        double[] frame = new double[input.Frame.Count];
        for (int i = 0; i < frame.Length; i++)
        {
            frame[i] = _values.Convert(input.Channel, input.Frame.Values[i]);
        }

        if (frame.Length != _frames[input.Channel].Axis?.Count || !Array.TrueForAll(frame, double.IsFinite))
        {
            return;
        }

        if (!_turns.TryGetValue(input.Channel, out (List<double[]> First, Queue<double[]> Last) kept))
        {
            _turns.Add(input.Channel, kept = ([], new Queue<double[]>()));
        }

        if (kept.First.Count < FramesOfATurn)
        {
            kept.First.Add(frame);
            return;
        }

        kept.Last.Enqueue(frame);
        if (kept.Last.Count > FramesOfATurn)
        {
            kept.Last.Dequeue();
        }
    }

    private void TakeQuantities(EngineTime time)
    {
        bool inRun = _inRun(_values.UtcOf(time));
        IReadOnlyList<QuantityNow> all = _engine.Quantities;
        foreach (SummaryBuilder quantity in _quantities)
        {
            foreach (QuantityNow now in all)
            {
                if (now.Id == quantity.Channel.Id && now.Value is { } value)
                {
                    quantity.Add(time, value, value, value, inRun);
                }
            }
        }
    }

    private void MatchKeys(BenchDefinition inForce)
    {
        _byKey.Clear();
        foreach (SummaryBuilder summary in _channels)
        {
            _byKey[EngineeringValues.KeyOf(summary.Channel, inForce)] = summary;
        }

        _frames.Clear();
        foreach (ChannelDefinition channel in _bench.Channels.Where(c => c.Kind == ChannelKind.Frame))
        {
            _frames[EngineeringValues.KeyOf(channel, inForce)] = channel;
        }
    }
}
