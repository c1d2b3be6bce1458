using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Mathematics;

/// <summary>
/// How often a leak-down's 95 % interval holds the leak, and what the supply's cycles are called, by simulation with fixed seeds from a balance of
/// air that shares nothing with the analysis but the gas law.
/// </summary>
public static class PneumaticFigures
{
    private const double Atmosphere = 14.69595;
    private const double Litres = 24;

    public static void LeakDowns(TextWriter output, Size size)
    {
        int rounds = size == Size.Full ? 2000 : 6;
        output.WriteLine($"Leak-down of 24 l (known to 0.3 l) from 90 psi, a reading a second, {rounds} tests a row; volume, temperature and gauge drawn anew each time from what the settings say of them:");
        output.WriteLine("| leak SLPM | minutes | noise psi | rho | step psi | temperature | wild | interval covers % | answered % | claimed % | U/leak (median) % |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|---|---|");
        foreach ((double leak, double minutes, double noise, double rho, double step, bool measured, bool wild) in (ReadOnlySpan<(double, double, double, double, double, bool, bool)>)
            [
                (3.3, 5, 0.02, 0, 0, true, false), (3.3, 5, 0.02, 0, 0, false, false), (3.3, 5, 0.05, 0.7, 0, true, false), (3.3, 10, 0.05, 0.7, 0, false, false),
                (3.3, 10, 0.05, 0.7, 0, false, true), (3.3, 5, 0.02, 0, 0.5, false, false), (3.3, 5, 0.02, 0, 1, true, false), (0.3, 10, 0.02, 0, 0, true, false),
                (0.3, 10, 0.02, 0, 0, false, false), (0, 10, 0.02, 0, 0, false, false), (0, 10, 0.05, 0.7, 0, true, false),
            ])
        {
            var random = new NoisyLine(20261101);
            var draws = new Random(20261102);
            int answered = 0, covered = 0, claimed = 0;
            var widths = new List<double>();
            for (int round = 0; round < rounds; round++)
            {
                double volume = Litres + (0.3 * random.Gauss());
                double scale = 1 + (0.005 * random.Gauss());
                double walk = (2 * draws.NextDouble()) - 1;
                int n = (int)(60 * minutes) + 1;
                double[] own = random.Next(n, rho, wild ? Spoiled.BothSides : Spoiled.No);
                double[] t = new double[n], p = new double[n], c = new double[measured ? n : 0];
                double start = 90 + Atmosphere;
                double rate = -Math.Log(1 - (leak * minutes * Atmosphere / (start * volume)));
                for (int i = 0; i < n; i++)
                {
                    double part = (double)i / (n - 1);
                    t[i] = i;

                    // Unmeasured, the air moves by up to half a kelvin; measured, by a kelvin of which the thermometer misses up to 0.1 K and a fifth.
                    double celsius = 20 + (measured ? 1 * part : 0.5 * walk * part);
                    double psig = (start * Math.Exp(-rate * part) * (celsius + 273.15) / 293.15) - Atmosphere;
                    double read = 90 + (scale * (psig - 90)) + (noise * own[i]);
                    p[i] = step > 0 ? step * Math.Round(read / step) : read;
                    if (measured)
                    {
                        c[i] = 20 + ((1 + (0.3 * walk)) * part);
                    }
                }

                Answer<LeakDownResult> answer = LeakDown.Measure(t, p, c, new LeakDownSettings { VolumeLitres = new Uncertain(Litres, 0.3), GaugeResolutionPsi = step });
                if (!answer.IsKnown)
                {
                    continue;
                }

                LeakDownResult result = answer.Value;
                answered++;
                covered += Math.Abs(result.FlowSlpm.Value - leak) <= result.ExpandedSlpm ? 1 : 0;
                claimed += result.IsClaimed ? 1 : 0;
                widths.Add(100 * result.ExpandedSlpm / Math.Max(leak, 1e-9));
            }

            widths.Sort();
            string width = leak > 0 && widths.Count > 0 ? $"{widths[widths.Count / 2]:0.0}" : "-";
            output.WriteLine($"| {leak} | {minutes} | {noise} | {rho} | {step} | {(measured ? "measured" : "not")} | {(wild ? "10 %" : "")} | "
                + $"{100.0 * covered / Math.Max(1, answered):0.0} | {100.0 * answered / rounds:0.0} | {100.0 * claimed / Math.Max(1, answered):0.0} | {width} |");
        }

        output.WriteLine();
    }

    public static void SupplyCycles(TextWriter output, Size size)
    {
        int rounds = size == Size.Full ? 1000 : 4;
        output.WriteLine($"What is said of a supply after a change, {rounds} supplies a row: 24 l, 78 to 100 psi, 33 SLPM drawn, 70 delivered, both scattering by 2 % from cycle to cycle, noise 0.15 psi, 5 readings a second; % of supplies three and six cycles after the change:");
        output.WriteLine("| drawn | delivered | steady | leak or more use | less use | worn | leak and worn | switch moved | rightly after six |");
        output.WriteLine("|---|---|---|---|---|---|---|---|---|");
        foreach ((double use, double delivery, SupplyVerdict right) in (ReadOnlySpan<(double, double, SupplyVerdict)>)
            [
                (1, 1, SupplyVerdict.Steady), (1.05, 1, SupplyVerdict.Steady), (1.15, 1, SupplyVerdict.LeakOrMoreUse), (1.25, 1, SupplyVerdict.LeakOrMoreUse),
                (0.75, 1, SupplyVerdict.LessUse), (1, 0.95, SupplyVerdict.Steady), (1, 0.85, SupplyVerdict.WornCompressor), (1, 0.75, SupplyVerdict.WornCompressor),
                (1.25, 0.75, SupplyVerdict.LeakAndWornCompressor),
            ])
        {
            int[] said = new int[Enum.GetValues<SupplyVerdict>().Length];
            int rightly = 0;
            for (int round = 0; round < rounds; round++)
            {
                var plant = new Plant(round);
                SupplyVerdict after3 = SupplyVerdict.Steady;
                while (plant.History.Count < SupplyHistory.ReferenceCycles + 6)
                {
                    bool changed = plant.History.Count >= SupplyHistory.ReferenceCycles;
                    plant.Step(changed ? use : 1, changed ? delivery : 1);
                    if (plant.History.Count == SupplyHistory.ReferenceCycles + 3)
                    {
                        after3 = plant.History.Compare().Value.Verdict;
                    }
                }

                said[(int)after3]++;
                rightly += plant.History.Compare().Value.Verdict == right ? 1 : 0;
            }

            string Share(SupplyVerdict verdict) => $"{100.0 * said[(int)verdict] / rounds:0.0}";
            output.WriteLine($"| {use} | {delivery} | {Share(SupplyVerdict.Steady)} | {Share(SupplyVerdict.LeakOrMoreUse)} | {Share(SupplyVerdict.LessUse)} | "
                + $"{Share(SupplyVerdict.WornCompressor)} | {Share(SupplyVerdict.LeakAndWornCompressor)} | {Share(SupplyVerdict.SwitchPointsMoved)} | {100.0 * rightly / rounds:0.0} |");
        }

        output.WriteLine();
        int nights = size == Size.Full ? 200 : 1;
        int cycles = 0, wrong = 0, nightsWrong = 0;
        for (int night = 0; night < nights; night++)
        {
            var plant = new Plant(100000 + night);
            int before = wrong;
            for (int last = 0; plant.Seconds < 12 * 3600;)
            {
                plant.Step(1, 1);
                if (plant.History.Count > last)
                {
                    last = plant.History.Count;
                    cycles++;
                    wrong += plant.History.Compare() is { IsKnown: true, Value.Verdict: not SupplyVerdict.Steady } ? 1 : 0;
                }
            }

            nightsWrong += wrong > before ? 1 : 0;
        }

        output.WriteLine($"{nights} sound nights of 12 h: {cycles} cycles, {wrong} comparisons other than steady, in {nightsWrong} nights.");
        output.WriteLine();
    }

    private sealed class Plant(int seed)
    {
        private const double StepSeconds = 0.2;
        private readonly NoisyLine _random = new(seed);
        private readonly SupplyCycleTracker _tracker = new();
        private double _psi = 85;
        private bool _runs;
        private double _use = 1;
        private double _delivery = 1;

        public SupplyHistory History { get; } = new();

        public double Seconds { get; private set; }

        public void Step(double use, double delivery)
        {
            bool runs = _psi <= 78 || (_runs && _psi < 100);
            if (runs && !_runs)
            {
                (_use, _delivery) = (1 + (0.02 * _random.Gauss()), 1 + (0.02 * _random.Gauss()));
            }

            _runs = runs;
            double slpm = (_runs ? 70 * delivery * _delivery : 0) - (33 * use * _use);
            _psi += StepSeconds * slpm * Atmosphere / Litres / 60;
            Seconds += StepSeconds;
            if (_tracker.Add(Seconds, _psi + (0.15 * _random.Gauss()), null, out SupplyCycle cycle))
            {
                History.Add(cycle);
            }
        }
    }
}
