using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Tests.Storage;

namespace DriftWatch.Tests.Web;

/// <summary>
/// Five hours of four channels at 1 Hz, of which every number is known. channel-0 stands at 48.75 psi, but for one reading at 36.25, a gap of ten
/// minutes and a minute of faults; channel-1 rises by 1.25 psi an hour; channel-3 follows channel-2 after 20 s.
/// </summary>
internal static class KnownNight
{
    public const double Level = 48.75;
    public const double Dip = 36.25;
    public const double SlopePerHour = 1.25;
    public const double LagSeconds = 20;
    public const double HighLimit = 60;
    public const int Seconds = 5 * 3600;
    public const int DipAt = 5025;

    /// <summary>Seconds in which nobody watched: neither readings nor ticks.</summary>
    public static readonly (int From, int To) Gap = (7200, 7800);

    public static readonly (int From, int To) Faults = (10_800, 10_860);

    public static readonly DateTimeOffset Begin = new(2026, 1, 15, 18, 0, 0, TimeSpan.Zero);

    public static string At(double seconds) => UtcText.FromNanoseconds(UtcText.ToNanoseconds(Begin.AddSeconds(seconds)));

    public static void Fill(StoreFolder folder)
    {
        using BenchStore store = folder.Open();
        IReadOnlyList<EngineInput> log = Log();
        foreach (EngineInput[] piece in log.Chunk(20_000))
        {
            store.Append(piece);
        }

        while (store.MergeDue() > 0)
        {
        }
    }

    private static IReadOnlyList<EngineInput> Log()
    {
        BenchDefinition bench = LogMaker.Bench(4);
        LimitDefinition high = new() { Side = LimitSide.High, Severity = Severity.Alarm, Value = HighLimit, Source = "for this test" };
        bench = bench with
        {
            Channels = [.. bench.Channels.Select(c => c with { Period = TimeSpan.FromSeconds(1), Limits = c.Key == 1 ? [high] : [] })],
        };
        var log = new LogMaker();
        var random = new Random(8);
        var noise = new double[Seconds + 1];
        for (int i = 0; i < noise.Length; i++)
        {
            noise[i] = random.NextDouble() - 0.5;
        }

        log.Start(default, Begin, bench);
        for (int second = 1; second <= Seconds; second++)
        {
            if (second > Gap.From && second <= Gap.To)
            {
                if (second == Gap.To)
                {
                    log.Start(EngineTime.FromSeconds(second), Begin.AddSeconds(second), bench);
                }

                continue;
            }

            for (int tenth = 9; tenth >= 1; tenth--)
            {
                log.Add(EngineInput.OfTick(EngineTime.FromSeconds(second - (tenth / 10.0))));
            }

            EngineTime at = EngineTime.FromSeconds(second);
            bool faulty = second > Faults.From && second <= Faults.To;
            if (!faulty)
            {
                log.Add(EngineInput.OfReading(at, 0, Reading.Of(second == DipAt ? 3.0 : 4.0)));
            }

            log.Add(EngineInput.OfReading(at, 1, Reading.Of(Math.Round(3 + (0.1 * second / 3600) + (0.02 * (random.NextDouble() - 0.5)), 5))));
            log.Add(EngineInput.OfReading(at, 2, Reading.Of(Math.Round(2 + noise[second], 4))));
            log.Add(EngineInput.OfReading(at, 3, Reading.Of(Math.Round(2 + noise[Math.Max(0, second - (int)LagSeconds)] + (0.1 * random.NextDouble()), 4))));
            if (faulty)
            {
                log.Add(EngineInput.OfReading(at, 0, Reading.Failed(FaultCode.OpenLoop)));
            }

            log.Add(EngineInput.OfTick(at));
        }

        return log.Inputs;
    }
}
