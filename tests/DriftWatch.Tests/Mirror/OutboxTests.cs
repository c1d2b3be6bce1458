using DriftWatch.Mirror;
using Xunit;

namespace DriftWatch.Tests.Mirror;

/// <summary>
/// How far a server has come, against a server that forgets: it keeps what it took only after a while, and loses the rest when it is killed.
/// </summary>
public sealed class OutboxTests
{
    [Fact]
    public void A_new_mirror_sends_what_is_new_first_and_the_past_beside_it()
    {
        var outbox = new Outbox(new OutboxState(100, [new Stretch(0, 100)]));
        outbox.Took(110, At(1));
        outbox.TookOlder(40, At(1));
        Assert.Equal((110L, new Stretch(40, 100), 60L), (outbox.Newest, outbox.Next!.Value, outbox.OlderInputs));
        outbox.TookOlder(100, At(2));
        Assert.Null(outbox.Next);
    }

    [Fact]
    public void An_acknowledgement_counts_only_after_a_while()
    {
        var outbox = new Outbox(new OutboxState(0, []));
        outbox.Took(10, At(0));
        outbox.Took(20, At(50));
        outbox.Settle(Outbox.SafeAfter);
        Assert.Equal(10, outbox.Safe.Newest);
        Assert.Equal(10, outbox.Rewind(Outbox.SafeAfter));
        Assert.Equal(10, outbox.Newest);
        Assert.Equal(0, outbox.Rewind(Outbox.SafeAfter));
    }

    [Fact]
    public void What_lies_too_far_behind_becomes_a_stretch_with_what_is_not_safe()
    {
        var outbox = new Outbox(new OutboxState(100, []));
        outbox.Took(150, At(0));
        outbox.Leap(900, At(1));
        Assert.Equal((900L, new Stretch(100, 900)), (outbox.Newest, outbox.Next!.Value));
        Assert.True(outbox.Owes(new Stretch(200, 300)));
        Assert.False(outbox.Owes(new Stretch(0, 90)));
    }

    [Fact]
    public void A_ninth_stretch_lengthens_the_eighth()
    {
        var outbox = new Outbox(new OutboxState(10_000, []));
        for (int i = 0; i < Outbox.MostOlder + 2; i++)
        {
            outbox.Add(new Stretch(i * 100, (i * 100) + 10));
        }

        Assert.Equal(Outbox.MostOlder, outbox.Safe.Older.Count);
        Assert.Equal(new Stretch(700, 910), outbox.Safe.Older[^1]);
    }

    /// <summary>
    /// A thousand random lives: sends, kills of the server that lose what it took in the last 20 s, restarts of ours that begin from what is
    /// written down, leaps. In the end the server has every number.
    /// </summary>
    [Fact]
    public void Whatever_happens_in_which_order_nothing_is_missing_in_the_end()
    {
        const int seed = 8;
        for (int life = 0; life < 1000; life++)
        {
            var random = new Random((seed * 100_000) + life);
            var held = new HashSet<long>();
            var recent = new List<(double When, long After, long Through)>();
            long last = random.Next(0, 200);
            OutboxState written = new(last, last > 0 ? [new Stretch(0, last)] : []);
            var outbox = new Outbox(written);
            double now = 0;
            bool isKilled = false;
            for (int step = 0; step < 400 || isKilled || outbox.Newest < last || outbox.Next is not null; step++)
            {
                now += random.NextDouble() * 15;
                bool quiet = step >= 400;
                last += quiet ? 0 : random.Next(0, 20);
                switch (quiet ? 9 : random.Next(10))
                {
                    case 0: // the server dies
                        foreach ((double when, long after, long through) in recent.Where(r => now - r.When < 20))
                        {
                            for (long number = after + 1; number <= through; number++)
                            {
                                held.Remove(number);
                            }
                        }

                        KeepOlder(held, recent, now);
                        isKilled = true;
                        break;
                    case 1: // ours dies: what was written down holds
                        outbox = new Outbox(written);
                        break;
                    case 2:
                        outbox.Leap(last, At(now));
                        break;
                    default:
                        if (isKilled)
                        {
                            outbox.Rewind(At(now)); // the first send fails
                            isKilled = false;
                            break;
                        }

                        if (outbox.Newest < last)
                        {
                            long through = Math.Min(last, outbox.Newest + random.Next(1, 30));
                            Take(outbox.Newest, through);
                            outbox.Took(through, At(now));
                        }

                        if (outbox.Next is { } next)
                        {
                            long through = Math.Min(next.Through, next.After + random.Next(1, 60));
                            Take(next.After, through);
                            outbox.TookOlder(through, At(now));
                        }

                        break;
                }

                if (random.Next(3) == 0)
                {
                    outbox.Settle(At(now));
                    written = outbox.Safe;
                }

                void Take(long after, long through)
                {
                    recent.Add((now, after, through));
                    for (long number = after + 1; number <= through; number++)
                    {
                        held.Add(number);
                    }
                }
            }

            Assert.True(held.Count == last, $"seed {seed}, life {life}: {last - held.Count} of {last} missing");
        }
    }

    /// <summary>A number that was sent twice and lost once is held by the older sending.</summary>
    private static void KeepOlder(HashSet<long> held, List<(double When, long After, long Through)> recent, double now)
    {
        foreach ((double when, long after, long through) in recent.Where(r => now - r.When >= 20))
        {
            for (long number = after + 1; number <= through; number++)
            {
                held.Add(number);
            }
        }

        recent.RemoveAll(r => now - r.When < 20);
    }

    private static TimeSpan At(double seconds) => TimeSpan.FromSeconds(seconds);
}
