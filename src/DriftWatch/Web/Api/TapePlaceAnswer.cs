using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Web.Api;

/// <summary>A place on the tape: <c>Text</c> as h:mm:ss.s; <c>Basis</c> is elapsed-time, counter or timecode.</summary>
internal sealed record TapePlaceAnswer(double Seconds, string Basis, string Text)
{
    public static TapePlaceAnswer? Of(TapePlace? place) => place is { } at ? new TapePlaceAnswer(at.Seconds, Slugs.Of(at.Basis), at.ToString()) : null;
}
