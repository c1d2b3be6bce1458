using DriftWatch.Analysis.Statistics;

namespace DriftWatch.Analysis.RfHeads;

/// <summary>One number a head, some of which may be missing. Heads are numbered 1 to 4, as on the machine; the default has none.</summary>
public readonly record struct FourHeads
{
    public const int Count = 4;

    private readonly double _one;
    private readonly double _two;
    private readonly double _three;
    private readonly double _four;
    private readonly byte _known;

    /// <param name="one">Of head 1; null where it is missing.</param>
    /// <param name="two">Of head 2.</param>
    /// <param name="three">Of head 3.</param>
    /// <param name="four">Of head 4.</param>
    /// <exception cref="ArgumentException">A number is not finite.</exception>
    public FourHeads(double? one, double? two, double? three, double? four)
    {
        (_one, _two, _three, _four) = (one ?? 0, two ?? 0, three ?? 0, four ?? 0);
        Finite.Require(_one, nameof(one));
        Finite.Require(_two, nameof(two));
        Finite.Require(_three, nameof(three));
        Finite.Require(_four, nameof(four));
        _known = (byte)((one is null ? 0 : 1) | (two is null ? 0 : 2) | (three is null ? 0 : 4) | (four is null ? 0 : 8));
    }

    /// <summary>How many heads have a number, 0 to 4.</summary>
    public int Known => System.Numerics.BitOperations.PopCount(_known);

    /// <summary>The number of a head, null where it is missing.</summary>
    /// <param name="head">1 to 4.</param>
    /// <exception cref="ArgumentOutOfRangeException">There is no such head.</exception>
    public double? this[int head]
    {
        get
        {
            RequireHead(head);
            return (_known & (1 << (head - 1))) == 0 ? null : head switch { 1 => _one, 2 => _two, 3 => _three, _ => _four };
        }
    }

    /// <summary>The same with one head's number replaced, or taken out.</summary>
    /// <param name="head">1 to 4.</param>
    /// <param name="value">Null: the head is missing.</param>
    public FourHeads With(int head, double? value)
    {
        RequireHead(head);
        return new FourHeads(
            head == 1 ? value : this[1], head == 2 ? value : this[2], head == 3 ? value : this[3], head == 4 ? value : this[4]);
    }

    /// <summary>Head by head this less the other, such as a level less that of the line-up; missing where either is.</summary>
    public FourHeads Less(in FourHeads other) =>
        new(this[1] - other[1], this[2] - other[2], this[3] - other[3], this[4] - other[4]);

    internal static void RequireHead(int head)
    {
        if (head is < 1 or > Count)
        {
            throw new ArgumentOutOfRangeException(nameof(head), head, "Heads are numbered 1 to 4.");
        }
    }
}
