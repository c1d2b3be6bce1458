using DriftWatch.Configuration;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Watch;

namespace DriftWatch.Tests.Watch.Support;

internal static class RandomNights
{
    /// <summary>What the service says of one of two mirrors.</summary>
    public static Command MirrorSays(Random random)
    {
        string mirror = random.Next(2) == 0 ? "annex" : "vault";
        return random.Next(2) == 0
            ? new MirrorFailsCommand { Id = Guid.Empty, By = "DriftWatch", Mirror = mirror, For = TimeSpan.FromSeconds(random.Next(4000)), May = TimeSpan.FromMinutes(30), Trouble = "behind", Text = "it is behind" }
            : new MirrorTakesCommand { Id = Guid.Empty, By = "DriftWatch", Mirror = mirror, Older = random.Next(3) == 0 ? null : random.Next(5000) };
    }

    /// <summary>A minute or two in which everything that can be an input is one: drops, faults, late samples, steps, restarts, reloads, people.</summary>
    public static List<EngineInput> Make(ulong seed)
    {
        var random = new Random((int)(seed ^ (seed >> 32)));
        BenchDefinition bench = TestBench.Full();
        bench = bench with { Quantities = DefaultQuantities.For(bench.Channels) };
        var night = new Night(bench);
        double length = 40 + (random.NextDouble() * 60);
        double ahead = 0;
        foreach (ChannelDefinition channel in bench.Channels)
        {
            double level = channel.Role switch
            {
                ChannelRole.RegulatedAir => 50,
                ChannelRole.SupplyAir => 90,
                ChannelRole.GuideVacuum => 10,
                ChannelRole.ServoLock => 1,
                ChannelRole.CorrectorUse => 30,
                _ => -10,
            };
            double dropAt = random.NextDouble() * length;
            double dropFor = random.NextDouble() * 15;
            double dropTo = random.NextDouble() * 1.1;
            double quietAt = random.NextDouble() * length * 3;
            double period = random.Next(3) == 0 ? 0.5 : 0.1;
            for (double t = random.Next(10) * 0.01; t < length; t = Math.Round(t + period, 6))
            {
                if (t > quietAt && t < quietAt + 12)
                {
                    continue;
                }

                bool dropped = t > dropAt && t < dropAt + dropFor;
                double value = (dropped ? (level < 0 ? level - (50 * dropTo) : level * dropTo) : level) + (random.NextDouble() * 0.1);
                if (channel.Kind == ChannelKind.Frame)
                {
                    if (random.Next(3) == 0)
                    {
                        night.Frames(channel.Key, t, t + 0.01, dropped ? 500 : 50);
                    }
                }
                else if (random.Next(60) == 0 || (dropped && random.Next(3) == 0))
                {
                    night.Fault(t, channel.Key, (FaultCode)random.Next(14));
                }
                else if (random.Next(2) == 0)
                {
                    night.At(t, EngineInput.OfReading(default, channel.Key, Reading.Of(value, value - random.NextDouble(), value + random.NextDouble())));
                }
                else
                {
                    night.Sample(t, channel.Key, value);
                }
            }
        }

        for (int i = 0; i < 12; i++)
        {
            double t = Math.Round(1 + (random.NextDouble() * (length - 1)), 3);
            switch (random.Next(9))
            {
                case 0:
                    ahead += random.Next(-5, 6);
                    night.At(t, EngineInput.OfClock(default, new ClockEvent((ClockEventKind)random.Next(5), Night.Anchor(t, ahead)) { StepNanoseconds = random.Next() }));
                    break;
                case 1:
                    night.At(t, new BaselineCommand { Id = Guid.Empty, By = "Ada", Provisional = random.Next(2) == 0 });
                    break;
                case 2:
                    night.At(t, new MarkCommand { Id = Guid.Empty, By = "Ada", Note = "splice µ" });
                    break;
                case 3:
                    night.At(t, new PassBeginsCommand { Id = Guid.Empty, By = "Ada", Transfer = "reel 7" });
                    break;
                case 4:
                    night.At(t, new PassEndsCommand { Id = Guid.Empty, By = "Ada", Transfer = "reel 7" });
                    break;
                case 5:
                    int gone = random.Next(12);
                    night.At(t, EngineInput.OfBench(default, TestBench.Full(c => c.Key == gone) with { SourceHash = "hash" + gone }));
                    break;
                case 6:
                    int key = random.Next(1, 12);
                    Calibration calibration = random.Next(3) switch
                    {
                        0 => new LineCalibration(1 + random.NextDouble(), random.NextDouble()),
                        1 => new PolynomialCalibration([0.1, 1, 0.001]),
                        _ => new TableCalibration([-100, 0, 100], [-101, 0.5, 100]),
                    };
                    night.At(t, EngineInput.OfCalibration(default, key, calibration with { Version = 2 }));
                    break;
                case 7:
                    night.At(t, new AcknowledgeCommand { Id = Guid.Empty, By = "Ada", Finding = "lab.stale.nothing.1" });
                    break;
                default:
                    night.At(t, EngineInput.OfReading(default, random.Next(1, 12), Reading.Of(3)) with { IsLate = true });
                    break;
            }
        }

        var disk = new Random(unchecked((int)seed) + 1);
        for (double t = disk.NextDouble() * length; t < length; t += 1 + (disk.NextDouble() * 40))
        {
            night.At(Math.Round(t, 3), disk.Next(2) == 0
                ? new StoreFailsCommand { Id = Guid.Empty, By = "DriftWatch", For = TimeSpan.FromSeconds(5.2), Trouble = "disk-full", Text = "The disk is full." }
                : new StoreTakesCommand { Id = Guid.Empty, By = "DriftWatch", Held = disk.Next(5000), Lost = disk.Next(2) });
        }

        for (double t = disk.NextDouble() * length; t < length; t += 1 + (disk.NextDouble() * 40))
        {
            night.At(Math.Round(t, 3), MirrorSays(disk));
        }

        // People answer findings that are really open: take their ids from a first run of the same night.
        List<EngineInput> inputs = night.Inputs();
        var answered = new List<EngineInput>(inputs.Count + 8);
        var engine = new WatchEngine();
        var lines = new List<FindingLine>();
        foreach (EngineInput input in inputs)
        {
            Add(input);
            if (input.Kind == InputKind.Tick && random.Next(150) == 0 && engine.OpenFindings.LastOrDefault() is { } open)
            {
                Command command = random.Next(2) == 0
                    ? new AcknowledgeCommand { Id = Guid.Empty, By = "Ben", Finding = open.Id }
                    : new ShelveCommand { Id = Guid.Empty, By = "Ben", Finding = open.Id, For = TimeSpan.FromSeconds(random.Next(1, 20)) };
                Add(EngineInput.OfCommand(input.Time, command));
            }
        }

        return answered;

        void Add(EngineInput input)
        {
            EngineInput numbered = input with { Number = answered.Count + 1 };
            answered.Add(numbered);
            engine.Apply(numbered, lines);
        }
    }
}
