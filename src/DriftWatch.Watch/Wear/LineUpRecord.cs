using DriftWatch.Analysis.RfHeads;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Snapshots;
using MathNet.Numerics.Statistics;

namespace DriftWatch.Watch.Wear;

/// <summary>The heads' levels at one line-up, dB.</summary>
/// <param name="At">Engine time.</param>
/// <param name="UtcNanoseconds">By the anchors of then: between line-ups the recorder may have been off, and only the wall clock has gone on.</param>
/// <param name="LevelsDb">Means of 30 s; heads may be missing.</param>
internal readonly record struct LineUp(EngineTime At, long UtcNanoseconds, FourHeads LevelsDb);

/// <summary>
/// The line-ups of one machine that can be held against each other: one a day (the last one counts), the newest
/// <see cref="Most"/>. What a wrong clock has dated is dropped, and so is all that was before the wheel was exchanged.
/// </summary>
internal sealed class LineUpRecord
{
    /// <summary>Days kept. Source: common practice, no source (a quarter of a year of daily work, more than a year of weekly).</summary>
    public const int Most = 64;

    /// <summary>A head that is higher by this than the median of the days before, twice in a row, is another one. Source: derived, as much as is said to be wear.</summary>
    public const double ExchangedDb = 1;

    // And beyond what tapes scatter it by. Source: derived, two in a row of 3 σ come once in half a million line-ups.
    private const double ExchangedScores = 3;

    // Fewer before tell no scatter. Source: common practice, no source.
    private const int LeastBefore = 4;

    // The median of |x₂ − x₁| of independent normal values is 0.954 σ. Derived.
    private const double DeviationPerChange = 1 / 0.954;

    // What the wall clock may lack of the engine's time. Source: derived, dates of weeks are told well enough within a day.
    private const long ClockSlackNanoseconds = NanosecondsPerDay;
    private const long NanosecondsPerDay = 86_400L * EngineTime.NanosecondsPerSecond;

    private readonly List<LineUp> _kept = [];

    public int Count => _kept.Count;

    public EngineTime First => _kept[0].At;

    public DateTimeOffset[] Dates => [.. _kept.Select(k => DateTimeOffset.UnixEpoch.AddTicks(k.UtcNanoseconds / TimeSpan.NanosecondsPerTick))];

    public FourHeads[] LevelsDb => [.. _kept.Select(k => k.LevelsDb)];

    public void Keep(LineUp lineUp)
    {
        // Engine time only grows, so a date that lies less far back than the engine has run is of a clock that was put back since.
        _kept.RemoveAll(k => lineUp.UtcNanoseconds - k.UtcNanoseconds < lineUp.At.Nanoseconds - k.At.Nanoseconds - ClockSlackNanoseconds
            || Day(k) >= Day(lineUp));
        _kept.Add(lineUp);
        if (_kept.Count > Most)
        {
            _kept.RemoveAt(0);
        }

        for (int head = 1; head <= FourHeads.Count; head++)
        {
            if (IsExchanged(head))
            {
                _kept.RemoveRange(0, _kept.Count - 2);
                return;
            }
        }
    }

    public void Clear() => _kept.Clear();

    public void Sync(StateArchive archive)
    {
        int count = archive.SyncCount(_kept.Count);
        for (int i = 0; i < count; i++)
        {
            LineUp lineUp = archive.IsWriting ? _kept[i] : default;
            EngineTime at = lineUp.At;
            long utc = lineUp.UtcNanoseconds;
            archive.Sync(ref at);
            archive.Sync(ref utc);
            FourHeads levels = default;
            for (int head = 1; head <= FourHeads.Count; head++)
            {
                double? level = lineUp.LevelsDb[head];
                archive.Sync(ref level);
                levels = levels.With(head, level);
            }

            if (!archive.IsWriting)
            {
                _kept.Add(new LineUp(at, utc, levels));
            }
        }
    }

    private static long Day(LineUp lineUp) => Math.DivRem(lineUp.UtcNanoseconds, NanosecondsPerDay).Quotient;

    /// <summary>Heads sit on one wheel and are exchanged with it: the last two days against the median of those before.</summary>
    private bool IsExchanged(int head)
    {
        (_, double[] differences) = new HeadRecord([.. Enumerable.Range(0, _kept.Count).Select(i => (double)i)], LevelsDb).AgainstOthers(head);
        if (differences.Length < LeastBefore + 2)
        {
            return false;
        }

        double[] before = differences[..^2];
        double scatter = DeviationPerChange * before.Skip(1).Zip(before, (later, earlier) => Math.Abs(later - earlier)).Median();
        return Math.Min(differences[^1], differences[^2]) > before.Median() + Math.Max(ExchangedDb, ExchangedScores * scatter);
    }
}
