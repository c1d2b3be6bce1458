using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.Pneumatics;

/// <summary>A quantity of the cycles: now against then.</summary>
/// <param name="Now">Median of the newest cycles.</param>
/// <param name="Then">Median of the reference.</param>
/// <param name="Spread">Robust standard deviation from cycle to cycle in the reference, at least <see cref="SupplyHistory.LeastSpreadShare"/> of its median (of the swing for switch points).</param>
/// <param name="Scores">How many standard errors now is away from then.</param>
public readonly record struct CycleChange(double Now, double Then, double Spread, double Scores)
{
    /// <summary>Now over then; 1 as then.</summary>
    public double Ratio => Now / Then;

    /// <summary>Changed by more than this share, and beyond what cycles scatter by.</summary>
    public bool RoseBy(double share) => Ratio > 1 + share && Scores > SupplyHistory.ClaimScores;

    /// <inheritdoc cref="RoseBy"/>
    public bool FellBy(double share) => Ratio < 1 - share && Scores < -SupplyHistory.ClaimScores;
}

/// <summary>What a change of the cycle means.</summary>
public enum SupplyVerdict
{
    /// <summary>As in the reference.</summary>
    Steady,

    /// <summary>The pressure falls faster: a leak, or more is drawn.</summary>
    LeakOrMoreUse,

    /// <summary>The pressure falls slower: less is drawn.</summary>
    LessUse,

    /// <summary>The compressor delivers less, while no more is drawn: valves, rings, intake filter, belt.</summary>
    WornCompressor,

    /// <summary>More is drawn and the compressor delivers less.</summary>
    LeakAndWornCompressor,

    /// <summary>The pressure switch turns elsewhere; rates are not compared, because both go with the pressure.</summary>
    SwitchPointsMoved,
}

/// <summary>The newest cycles against the reference.</summary>
/// <param name="PeriodSeconds">Cut-in to cut-in.</param>
/// <param name="Duty">Share of the time that the compressor works.</param>
/// <param name="FallPsiPerSecond">What is drawn, leaks included.</param>
/// <param name="RisePsiPerSecond">Delivery less what is drawn.</param>
/// <param name="DeliveryPsiPerSecond">Rise plus fall: what the compressor delivers, whatever is drawn.</param>
/// <param name="CutInPsi">Lower switch point.</param>
/// <param name="CutOutPsi">Upper switch point.</param>
/// <param name="Draw">The fall over the absolute pressure that the machine draws at, where that is known; else the fall: a regulator that creeps draws more through sound openings.</param>
/// <param name="Verdict">What it means.</param>
public readonly record struct SupplyComparison(
    CycleChange PeriodSeconds,
    CycleChange Duty,
    CycleChange FallPsiPerSecond,
    CycleChange RisePsiPerSecond,
    CycleChange DeliveryPsiPerSecond,
    CycleChange CutInPsi,
    CycleChange CutOutPsi,
    CycleChange Draw,
    SupplyVerdict Verdict);

/// <summary>
/// The last sixteen cycles of a supply and a reference of eight, taken from the first there are or anew when asked. A receiver that gains C from its compressor and loses q
/// rises by (C − q)·Ps/V and falls by q·Ps/V: the fall tells what is drawn, and the sum of both tells what is delivered, whatever is drawn. So a leak and a
/// worn compressor, which both raise the duty, are told apart. Openings draw in proportion to the absolute pressure behind the regulator, so that is divided out where it is known. Derived; more use by the machine itself and a leak can't be told apart by the supply alone. Median and spread of few cycles: MAD, held to a least
/// share, because eight cycles may agree by chance. Constant size; allocates nothing.
/// </summary>
public sealed class SupplyHistory
{
    /// <summary>Cycles of the reference.</summary>
    public const int ReferenceCycles = 8;

    /// <summary>Newest cycles that stand for now.</summary>
    public const int NewestCycles = 3;

    /// <summary>Cycles are never taken to agree better than this share. Source: common practice, no source.</summary>
    public const double LeastSpreadShare = 0.02;

    /// <summary>Standard errors beyond which a change is claimed. By simulation: no false claim in 69,459 cycles of 200 sound nights (this folder's README).</summary>
    public const double ClaimScores = 4;

    /// <summary>Changes of less are none. Source: common practice, no source: half of the ±20 % in which a duty counts as normal.</summary>
    public const double LeastChangeShare = 0.1;

    private const int Capacity = 16;
    private const int Numbers = 9;

    private enum Quantity
    {
        Period,
        Duty,
        CutIn,
        CutOut,
        Fall,
        Rise,
        Delivery,
        Draw,
        Regulated,
        Bend,
    }

    private readonly double[] _ring = new double[Capacity * Numbers];
    private readonly double[] _reference = new double[ReferenceCycles * Numbers];
    private readonly double[] _scratch = new double[Capacity];
    private int _count;
    private int _referenceCount;
    private int _referenceUntil;

    /// <summary>Cycles seen since the beginning.</summary>
    public int Count => _count;

    /// <summary>Whether there is a reference to compare with.</summary>
    public bool HasReference => _referenceCount == ReferenceCycles;

    /// <summary>The cycle of the reference: medians, its start the first's; null without one.</summary>
    public SupplyCycle? Reference() => HasReference ? MedianCycle(_reference, 0, ReferenceCycles) : null;

    /// <summary>How each of the reference's numbers scatters from cycle to cycle, at least <see cref="LeastSpreadShare"/> of its median; null without a reference.</summary>
    public SupplyCycle? ReferenceSpread()
    {
        if (!HasReference)
        {
            return null;
        }

        double Of(Quantity quantity)
        {
            (double median, double spread) = Centre(_reference, quantity, 0, ReferenceCycles);
            return Math.Max(spread, LeastSpreadShare * Math.Abs(median));
        }

        return new SupplyCycle(0, Of(Quantity.Period), Of(Quantity.Duty), Of(Quantity.CutIn), Of(Quantity.CutOut), Of(Quantity.Rise), Of(Quantity.Fall), Of(Quantity.Regulated), Centre(_reference, Quantity.Bend, 0, ReferenceCycles).Spread);
    }

    /// <summary>The newest cycle; null before the first.</summary>
    public SupplyCycle? Newest => _count == 0 ? null : At(_ring, (_count - 1) % Capacity);

    public void Add(in SupplyCycle cycle)
    {
        Put(_ring, _count % Capacity, cycle);
        _count++;
        if (!HasReference)
        {
            Put(_reference, _referenceCount++, cycle);
            _referenceUntil = _count;
        }
    }

    /// <summary>Makes the last eight cycles the reference, as at a line-up; false where there are fewer, and then the next ones become it.</summary>
    public bool TakeReference()
    {
        if (_count < ReferenceCycles)
        {
            return false;
        }

        for (int i = 0; i < ReferenceCycles; i++)
        {
            int from = (_count - ReferenceCycles + i) % Capacity;
            _ring.AsSpan(from * Numbers, Numbers).CopyTo(_reference.AsSpan(i * Numbers));
        }

        _referenceCount = ReferenceCycles;
        _referenceUntil = _count;
        return true;
    }

    /// <summary>Forgets the reference: the next eight cycles become it, as after the use has changed on purpose.</summary>
    public void ForgetReference() => _referenceCount = 0;

    /// <summary>Now against the reference; a shortfall of cycles until both are there and don't overlap.</summary>
    public Answer<SupplyComparison> Compare()
    {
        int since = HasReference ? _count - _referenceUntil : 0;
        if (since < NewestCycles)
        {
            return new Shortfall("compressor cycles", _referenceCount + since, ReferenceCycles + NewestCycles);
        }

        CycleChange cutIn = Change(Quantity.CutIn);
        CycleChange cutOut = Change(Quantity.CutOut);
        CycleChange fall = Change(Quantity.Fall);
        CycleChange delivery = Change(Quantity.Delivery);
        CycleChange draw = KnowsRegulated ? Change(Quantity.Draw) : fall;
        double swing = cutOut.Then - cutIn.Then;
        SupplyVerdict verdict;
        if (Moved(cutIn, swing) || Moved(cutOut, swing))
        {
            verdict = SupplyVerdict.SwitchPointsMoved;
        }
        else
        {
            bool leak = draw.RoseBy(LeastChangeShare);
            bool worn = delivery.FellBy(LeastChangeShare);
            verdict = (leak, worn) switch
            {
                (true, true) => SupplyVerdict.LeakAndWornCompressor,
                (true, false) => SupplyVerdict.LeakOrMoreUse,
                (false, true) => SupplyVerdict.WornCompressor,
                _ => draw.FellBy(LeastChangeShare) ? SupplyVerdict.LessUse : SupplyVerdict.Steady,
            };
        }

        return new SupplyComparison(
            Change(Quantity.Period), Change(Quantity.Duty), fall, Change(Quantity.Rise), delivery, cutIn, cutOut, draw, verdict);
    }

    /// <summary>The cycle of now: medians of the newest three, its start the first's; a shortfall below three.</summary>
    public Answer<SupplyCycle> Usual()
    {
        if (_count < NewestCycles)
        {
            return new Shortfall("compressor cycles", _count, NewestCycles);
        }

        return MedianCycle(_ring, _count - NewestCycles, NewestCycles);
    }

    /// <summary>How much faster it falls in the upper half of its swing, as a share of the fall: median of the newest eight; a shortfall below three, or where halves have too few readings.</summary>
    public Answer<double> FallBend()
    {
        int n = Math.Min(_count, ReferenceCycles);
        if (n < NewestCycles || !KnowsBend(_ring, _count - n, n))
        {
            return new Shortfall("compressor cycles", n < NewestCycles ? n : 0, NewestCycles);
        }

        return Centre(_ring, Quantity.Bend, _count - n, n).Median;
    }

    /// <summary>
    /// What is drawn, leaks included, in standard litres a minute: the newest cycles' fall and the receiver's volume, with an uncertainty that combines
    /// the volume's with the cycles' scatter.
    /// </summary>
    /// <param name="volumeLitres">Receiver with its pipes.</param>
    /// <returns>A shortfall below three cycles.</returns>
    public Answer<Uncertain> UseSlpm(Uncertain volumeLitres) => Flow(Quantity.Fall, volumeLitres);

    /// <summary>What the compressor delivers at its usual pressure, in standard litres a minute.</summary>
    /// <inheritdoc cref="UseSlpm"/>
    public Answer<Uncertain> DeliverySlpm(Uncertain volumeLitres) => Flow(Quantity.Delivery, volumeLitres);

    /// <summary>The newest cycles' rate of fall, psi/s, with the scatter from cycle to cycle as its uncertainty; a shortfall below three cycles.</summary>
    public Answer<Uncertain> FallPsiPerSecond() => Newly(Quantity.Fall);

    /// <summary>Writes or reads all it remembers.</summary>
    public void Sync(IStateFields fields)
    {
        fields.Sync(ref _count);
        fields.Sync(ref _referenceCount);
        fields.Sync(ref _referenceUntil);
        for (int i = 0; i < _ring.Length; i++)
        {
            fields.Sync(ref _ring[i]);
        }

        for (int i = 0; i < _reference.Length; i++)
        {
            fields.Sync(ref _reference[i]);
        }

        if (_count < 0 || _referenceCount is < 0 or > ReferenceCycles)
        {
            throw new FormatException($"A history of {_count} cycles with a reference of {_referenceCount} can't be.");
        }
    }

    private bool KnowsRegulated
    {
        get
        {
            bool known = true;
            for (int i = 0; i < ReferenceCycles; i++)
            {
                known &= At(_reference, i).RegulatedPsia > 0;
            }

            for (int i = _count - NewestCycles; i < _count; i++)
            {
                known &= At(_ring, i % Capacity).RegulatedPsia > 0;
            }

            return known;
        }
    }

    // Cut-in and cut-out are compared with the swing, not with themselves: 2 psi of 20 is much, of 80 it would be nothing.
    private static bool Moved(CycleChange point, double swing) =>
        Math.Abs(point.Now - point.Then) > LeastChangeShare * swing && Math.Abs(point.Scores) > ClaimScores;

    private Answer<Uncertain> Flow(Quantity quantity, Uncertain volumeLitres)
    {
        Answer<Uncertain> rate = Newly(quantity);
        if (!rate.IsKnown)
        {
            return rate;
        }

        double slpm = Receiver.FlowSlpm(volumeLitres.Value, 60 * rate.Value.Value);
        return Coverage.Combine(
            slpm,
            (slpm * rate.Value.StandardUncertainty / rate.Value.Value, rate.Value.Freedom),
            (slpm * volumeLitres.StandardUncertainty / volumeLitres.Value, volumeLitres.Freedom));
    }

    private Answer<Uncertain> Newly(Quantity quantity)
    {
        int n = Math.Min(_count, ReferenceCycles);
        if (n < NewestCycles)
        {
            return new Shortfall("compressor cycles", n, NewestCycles);
        }

        (_, double spread) = Centre(_ring, quantity, _count - n, n);
        (double now, _) = Centre(_ring, quantity, _count - NewestCycles, NewestCycles);
        return new Uncertain(now, Math.Max(spread, LeastSpreadShare * Math.Abs(now)), n - 1);
    }

    private CycleChange Change(Quantity quantity)
    {
        (double then, double spread) = Centre(_reference, quantity, 0, ReferenceCycles);
        (double now, _) = Centre(_ring, quantity, _count - NewestCycles, NewestCycles);

        // Switch points scatter with the swing between them, not with how far they are from the vacuum.
        bool isPoint = quantity is Quantity.CutIn or Quantity.CutOut;
        double size = isPoint
            ? Centre(_reference, Quantity.CutOut, 0, ReferenceCycles).Median - Centre(_reference, Quantity.CutIn, 0, ReferenceCycles).Median
            : then;
        spread = Math.Max(spread, LeastSpreadShare * Math.Abs(size));

        // Medians of n scatter by 1.25/√n of a reading's deviation, less for so few; taken as it is.
        double error = 1.2533 * spread * Math.Sqrt((1.0 / NewestCycles) + (1.0 / ReferenceCycles));
        return new CycleChange(now, then, spread, error > 0 ? (now - then) / error : 0);
    }

    private SupplyCycle MedianCycle(double[] from, int first, int count)
    {
        double Of(Quantity quantity) => Centre(from, quantity, first, count).Median;
        return new SupplyCycle(
            At(from, first % (from.Length / Numbers)).StartSeconds, Of(Quantity.Period), Of(Quantity.Duty), Of(Quantity.CutIn), Of(Quantity.CutOut), Of(Quantity.Rise), Of(Quantity.Fall), Of(Quantity.Regulated), KnowsBend(from, first, count) ? Of(Quantity.Bend) : null);
    }

    private static bool KnowsBend(double[] from, int first, int count)
    {
        bool known = true;
        for (int i = 0; i < count; i++)
        {
            known &= At(from, (first + i) % (from.Length / Numbers)).FallBend.HasValue;
        }

        return known;
    }

    private (double Median, double Spread) Centre(double[] from, Quantity quantity, int first, int count)
    {
        int places = from.Length / Numbers;
        for (int i = 0; i < count; i++)
        {
            _scratch[i] = Of(At(from, (first + i) % places), quantity);
        }

        return RobustScale.MadInPlace(_scratch.AsSpan(0, count));
    }

    private static double Of(in SupplyCycle cycle, Quantity quantity) => quantity switch
    {
        Quantity.Period => cycle.PeriodSeconds,
        Quantity.Duty => cycle.Duty,
        Quantity.CutIn => cycle.CutInPsi,
        Quantity.CutOut => cycle.CutOutPsi,
        Quantity.Fall => cycle.FallPsiPerSecond,
        Quantity.Rise => cycle.RisePsiPerSecond,
        Quantity.Delivery => cycle.RisePsiPerSecond + cycle.FallPsiPerSecond,
        Quantity.Draw => cycle.FallPsiPerSecond / cycle.RegulatedPsia,
        Quantity.Bend => cycle.FallBend ?? 0,
        _ => cycle.RegulatedPsia,
    };

    private static void Put(double[] into, int place, in SupplyCycle cycle)
    {
        Span<double> slot = into.AsSpan(place * Numbers, Numbers);
        slot[0] = cycle.StartSeconds;
        slot[1] = cycle.PeriodSeconds;
        slot[2] = cycle.Duty;
        slot[3] = cycle.CutInPsi;
        slot[4] = cycle.CutOutPsi;
        slot[5] = cycle.RisePsiPerSecond;
        slot[6] = cycle.FallPsiPerSecond;
        slot[7] = cycle.RegulatedPsia;
        slot[8] = cycle.FallBend ?? double.NaN;
    }

    private static SupplyCycle At(double[] from, int place)
    {
        ReadOnlySpan<double> slot = from.AsSpan(place * Numbers, Numbers);
        return new SupplyCycle(slot[0], slot[1], slot[2], slot[3], slot[4], slot[5], slot[6], slot[7], double.IsNaN(slot[8]) ? null : slot[8]);
    }
}
