using DriftWatch.Acquisition.Recordings;
using DriftWatch.Measuring;
using DriftWatch.Web.Access;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.AspNetCore.Mvc;

namespace DriftWatch.Web.Api;

/// <summary>
/// The measurements of <c>driftwatch measure</c> over the API: numbers in, what they come to out. Nothing is kept, nothing is driven,
/// and every request stands alone: who sweeps by hand sends all points again after each one.
/// </summary>
internal static class MeasureEndpoints
{
    /// <summary>A record of a hundred revolutions has some 12,000 points of 20 bytes.</summary>
    private const int LongestBody = 1024 * 1024;

    public static void Map(IEndpointRouteBuilder api, TimeProvider time)
    {
        var all = new List<MeasurementAnswer>();
        api.MapGet("/measure", () => TypedResults.Ok(new MeasurementsAnswer(all)))
            .WithSummary("The measurements that can be made, each with what can hurt on the way");
        Map<TimingRequest>(api, time, all, "timing", "A record of timing errors taken apart, and what to turn", Cautions.Wheel, r =>
        {
            var settings = new TimingSettings(
                TimingAid.Standard.Of(r.Standard), TimingAid.Tape.Of(r.Tape), TimingAid.Terms.Of(r.Terms), TimingAid.Unit.Of(r.Unit), TimingAid.Range.Optional(r.Range));
            TimingReading reading = TimingAid.Read(Table(r), settings);
            return MeasureAnswer.Of(reading.Report, reading);
        });
        Map<TrackingRequest>(api, time, all, "tracking", "Where to set the tracking control, from a sweep of it", Cautions.Wheel, r =>
            MeasureAnswer.Of(TrackingAid.Read(Table(r), TrackingAid.Unit.Of(r.Unit))));
        Map<EqualiserRequest>(api, time, all, "equaliser", "The dip in a sweep of the master equaliser", Cautions.Wheel, r => MeasureAnswer.Of(EqualiserAid.Read(Table(r))));
        Map<MatchingRequest>(api, time, all, "matching", "Channels matched to that of head 1 on two bars", Cautions.Wheel, r =>
            MeasureAnswer.Of(MatchingAid.Read(Table(r), MatchingAid.Tolerance.Of(r.Tolerance))));
        Map<LevelsRequest>(api, time, all, "levels", "Levels of the output against the standard's figures", null, r =>
            MeasureAnswer.Of(LevelsAid.Read(
                Table(r), new LevelsSettings(LevelsAid.Standard.Of(r.Standard), LevelsAid.Unit.Of(r.Unit), LevelsAid.Bar.Of(r.Bar), LevelsAid.Bars.Of(r.Bars)))));
        Map<HalfErrorRequest>(api, time, all, "half-error", "The half-error rule over all errors seen so far: the next move, or when to stop", Cautions.Wheel, r =>
            MeasureAnswer.Of(HalfErrorAid.Read(
                string.IsNullOrWhiteSpace(r.Csv) ? null : Table(r),
                HalfErrorAid.Procedure.Of(r.Procedure),
                Knob.Of(HalfErrorAid.Adjust.Of(r.Adjust), TimingAid.Standard.Of(r.Standard)),
                HalfErrorAid.StandardError.Of(r.StandardError),
                HalfErrorAid.Gain.Of(r.Gain))));
        Map<LeakDownRequest>(api, time, all, "leak-down", "The leak of a closed receiver from the fall of its pressure", Cautions.Air, r =>
            MeasureAnswer.Of(LeakDownAid.Read(Table(r), LeakDownAid.Settings(
                LeakDownAid.ReceiverLitres.Of(r.ReceiverLitres),
                LeakDownAid.VolumeError.Optional(r.VolumeError),
                LeakDownAid.GaugeStep.Of(r.GaugeStep),
                LeakDownAid.GaugeError.Of(r.GaugeError),
                LeakDownAid.Temperature.Of(r.Temperature),
                LeakDownAid.TemperatureError.Optional(r.TemperatureError),
                LeakDownAid.Atmosphere.Of(r.Atmosphere)))));
        Map<FilterRequest>(api, time, all, "filter", "The drop between air at rest and air under flow, and whether it has grown", Cautions.Air, r =>
            MeasureAnswer.Of(FilterAid.Of(
                FilterAid.AtRest.Of(r.AtRest), FilterAid.UnderFlow.Of(r.UnderFlow), FilterAid.DropBefore.Optional(r.DropBefore), FilterAid.GaugeError.Of(r.GaugeError))));
    }

    private static void Map<T>(
        IEndpointRouteBuilder api, TimeProvider time, List<MeasurementAnswer> all, string name, string summary, string? caution, Func<T, MeasureAnswer> measure)
        where T : class, new()
    {
        all.Add(new MeasurementAnswer(name, summary, caution));
        api.MapPost($"/measure/{name}", async Task<Results<Ok<MeasureAnswer>, ProblemHttpResult>> (HttpRequest request, CancellationToken cancel) =>
            {
                (T? body, ProblemHttpResult? problem) = await RequestBody.ReadAsync<T>(request, "Send a JSON object; openapi.json lists the fields.", cancel);
                return body is null ? problem! : Measure(body, time, measure);
            })
            .OnlyReckons()
            .Accepts<T>("application/json")
            .WithMetadata(new RequestSizeLimitAttribute(LongestBody))
            .WithSummary(summary)
            .ProducesProblem(400)
            .ProducesProblem(413)
            .ProducesProblem(415)
            .ProducesProblem(422);
    }

    private static Results<Ok<MeasureAnswer>, ProblemHttpResult> Measure<T>(T body, TimeProvider time, Func<T, MeasureAnswer> measure)
    {
        long start = time.GetTimestamp();
        MeasureAnswer answer;
        try
        {
            answer = measure(body);
        }
        catch (CannotTellException untold)
        {
            answer = MeasureAnswer.Untold(untold.Message);
        }
        catch (FieldException field)
        {
            return Problems.BadParameter(CamelCase(field.Field), field.What, field.Remedy);
        }
        catch (RecordingException mistake)
        {
            return Problems.BadTable("csv", mistake);
        }

        return TypedResults.Ok(answer with { TookMilliseconds = time.GetElapsedTime(start).TotalMilliseconds });
    }

    private static NumberTable Table(MeasureRequest request) => NumberTable.OfText("csv", request.Csv ?? "");

    private static string CamelCase(string words)
    {
        string[] parts = words.Split('-');
        return parts[0] + string.Concat(parts.Skip(1).Select(p => char.ToUpperInvariant(p[0]) + p[1..]));
    }
}
