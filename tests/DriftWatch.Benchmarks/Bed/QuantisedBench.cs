using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;

namespace DriftWatch.Benchmarks.Bed;

/// <summary>
/// A bench by the clock: air in 0.001 bar, vacuum in 0.01 kPa, RF in 0.01 dB, timing in 0.1 ns, five channels of each, as
/// slow walks with noise of a few steps; a millisecond of jitter on three scans in ten.
/// </summary>
internal sealed class QuantisedBench
{
    public const int Channels = 20;
    /// <summary>UTC of the first instant.</summary>
    public static readonly DateTimeOffset Begin = new(2026, 3, 1, 0, 0, 0, TimeSpan.Zero);

    private static readonly double[] Scales = [1000, 100, 100, 10];
    private static readonly double[] Noise = [4, 3, 7, 5]; // times 0.58: standard deviations of 1.7 to 4 steps
    private readonly Random _random = new(11);
    private readonly double[] _level = new double[Channels];
    private readonly int[] _faultLeft = new int[Channels];
    private readonly int _hertz;
    private readonly bool _extremes;
    private long _number = 1;

    public QuantisedBench(int hertz, bool extremes)
    {
        _hertz = hertz;
        _extremes = extremes;
        for (int i = 0; i < Channels; i++)
        {
            _level[i] = 2000 + (137 * i);
        }
    }

    public EngineTime At { get; private set; }

    public EngineInput[] Next(int seconds)
    {
        var inputs = new List<EngineInput>(seconds * ((Channels * _hertz) + 10) + 1);
        if (_number == 1)
        {
            Add(EngineInput.OfClock(default, new ClockEvent(
                ClockEventKind.Started, new TimeAnchor(default, UtcText.ToNanoseconds(Begin)))));
        }

        for (int step = 0; step < seconds * 10; step++)
        {
            EngineTime tick = At.NextTick();
            if (tick.Nanoseconds / EngineTime.TickGridNanoseconds % (10 / _hertz) == 0)
            {
                Scan(tick - TimeSpan.FromMilliseconds(50 + (_random.NextDouble() < 0.3 ? _random.Next(-1, 2) : 0)), Add);
            }

            Add(EngineInput.OfTick(tick));
            At = tick;
        }

        return [.. inputs];

        void Add(EngineInput input) => inputs.Add(input with { Number = _number++ });
    }

    private void Scan(EngineTime at, Action<EngineInput> add)
    {
        List<EngineInput>? faults = null;
        for (int channel = 0; channel < Channels; channel++)
        {
            int kind = channel / 5;
            _level[channel] += Gauss() * 0.3;
            if (_extremes && (_faultLeft[channel] > 0 || _random.NextDouble() < 0.0005))
            {
                _faultLeft[channel] = _faultLeft[channel] > 0 ? _faultLeft[channel] - 1 : 20;
                (faults ??= []).Add(EngineInput.OfReading(at, channel, Reading.Failed(FaultCode.NoAnswer)));
                continue;
            }

            double code = Math.Round(_level[channel] + (Gauss() * Noise[kind]));
            double low = code - Math.Abs(Math.Round(Gauss() * Noise[kind]));
            double high = code + Math.Abs(Math.Round(Gauss() * Noise[kind]));
            add(EngineInput.OfReading(at, channel, _extremes
                ? Reading.Of(code / Scales[kind], low / Scales[kind], high / Scales[kind])
                : Reading.Of(code / Scales[kind])));
        }

        faults?.ForEach(add);
    }

    private double Gauss() => _random.NextDouble() + _random.NextDouble() + _random.NextDouble() + _random.NextDouble() - 2;
}
