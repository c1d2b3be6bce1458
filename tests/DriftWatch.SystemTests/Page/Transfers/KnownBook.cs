using DriftWatch.Measurement.Time;
using DriftWatch.Tests.Web;
using DriftWatch.Transfers;

namespace DriftWatch.SystemTests.Page.Transfers;

/// <summary>A book with all that the page must be able to show: a transfer that is done, one in hand, and a tape that waits.</summary>
internal static class KnownBook
{
    public static readonly Guid Done = Guid.Parse("0190a6f0-0002-7000-8000-000000000001");
    public static readonly Guid InHand = Guid.Parse("0190a6f0-0002-7000-8000-000000000002");

    public static async Task WriteAsync(FakeBook book)
    {
        long now = book.Desk.NowUtc;
        string Ago(double minutes) => UtcText.FromNanoseconds(now - (long)(minutes * 60e9));
        Guid[] tapes = [Guid.Parse("0190a6f0-0001-7000-8000-000000000001"), Guid.Parse("0190a6f0-0001-7000-8000-000000000002"), Guid.Parse("0190a6f0-0001-7000-8000-000000000003")];
        await book.EnterAsync(Tape(tapes[0], "MC-0117", "Harbour regatta, reel 1 of 2") with { Condition = "two splices, edges clean", Carrier = "ferric, 14 in reel" });
        await book.EnterAsync(Tape(tapes[1], "MC-0118", "Harbour regatta, reel 2 of 2"));
        await book.EnterAsync(Tape(tapes[2], "VT 1047", null) with { Standard = "625/50", SpeedInchesPerSecond = 15.625 });
        await book.EnterAsync(new EntryRequest { Kind = "transfer-opened", Tape = tapes[0], Transfer = Done, About = Ago(90) });
        await book.EnterAsync(new EntryRequest { Kind = "pass-opened", Transfer = Done, About = Ago(88) });
        await book.EnterAsync(new EntryRequest { Kind = "check-signed", Check = "tape-inspected", Answer = "done", Note = "two splices near the head", About = Ago(85) });
        await book.EnterAsync(new EntryRequest { Kind = "check-signed", Check = "head-hours", Answer = "done", Value = 512, About = Ago(84) }); // past its limit of 500
        await book.EnterAsync(new EntryRequest { Kind = "check-signed", Check = "filter-drained", Answer = "not-done", Note = "the drain is stuck", About = Ago(83) });
        await book.EnterAsync(new EntryRequest { Kind = "line-up-step", Step = "tracking", Before = -7.2, After = -3.1, Turned = "tracking, half a turn", About = Ago(80) }, "Tom Ashby");
        await book.EnterAsync(new EntryRequest { Kind = "line-up-step", Step = "audio-zero", Before = 1.4, After = 0.8, Turned = "playback gain, down", About = Ago(79) }, "Tom Ashby");
        await book.EnterAsync(new EntryRequest { Kind = "line-up-step", Step = "equaliser", Done = false, Note = "no response tape here", About = Ago(78) }, "Tom Ashby");
        await book.EnterAsync(new EntryRequest { Kind = "line-up-ended", About = Ago(77) });
        await book.EnterAsync(new EntryRequest { Kind = "run-began", StartSeconds = 30, About = Ago(60) });
        await book.EnterAsync(new EntryRequest { Kind = "note", Mark = true, Note = "splice", About = Ago(50) }, "Tom Ashby");
        await book.EnterAsync(new EntryRequest { Kind = "run-ended", About = Ago(10) });
        await book.EnterAsync(new EntryRequest { Kind = "verdict-given", Note = "run the splice again" });
        await book.EnterAsync(new EntryRequest { Kind = "verdict-countersigned" }, "Tom Ashby");
        await book.EnterAsync(new EntryRequest { Kind = "transfer-opened", Tape = tapes[1], Transfer = InHand });
        await book.EnterAsync(new EntryRequest { Kind = "pass-opened", Transfer = InHand });
        await book.EnterAsync(new EntryRequest { Kind = "check-signed", Check = "tape-inspected", Answer = "done" });
    }

    private static EntryRequest Tape(Guid id, string identifier, string? title) => new()
    {
        Kind = "tape-described", Tape = id, Identifier = identifier, Title = title, Standard = "525/60", Band = "high-band", SpeedInchesPerSecond = 15,
    };
}
