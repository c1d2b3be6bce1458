using System.ComponentModel;
using DriftWatch.Running;
using DriftWatch.Web.Access;
using DriftWatch.Web.Api;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.AspNetCore.Mvc;

namespace DriftWatch.Web.Live;

/// <summary>The live stream as Server-Sent Events.</summary>
internal static class LiveEndpoint
{
    private const int BacklogPage = 200;

    public static void Map(IEndpointRouteBuilder api, HostedBenches benches) =>
        api.MapGet("/benches/{bench}/live", Results<LiveResult, ProblemHttpResult> (
                string bench,
                [Description("Cursor of the newest finding line already known, and after a full stop that of the newest line of the alarm book; absent: only new ones come.")] string? after,
                [FromHeader(Name = "Last-Event-ID")][Description("Sent by browsers when they connect again; goes before 'after'.")] string? lastEventId) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                // A foreign id is no error: a browser would stop for good.
                if (!string.IsNullOrEmpty(lastEventId) && LiveCursor.TryParse(lastEventId, out long finding, out long? alarm))
                {
                    return new LiveResult(hosted, finding, alarm);
                }

                if (string.IsNullOrEmpty(after))
                {
                    return new LiveResult(hosted, null, null);
                }

                return LiveCursor.TryParse(after, out finding, out alarm)
                    ? new LiveResult(hosted, finding, alarm)
                    : Problems.BadParameter("after", $"'{after}' is not a cursor.", "Use the id of an event of this stream, the 'nextCursor' of findings, or after=0.0 to begin.");
            })
            .RequireRateLimiting(Rates.Streams)
            .WithSummary("Numbers, state, line notices, findings and lines of the alarm book as Server-Sent Events")
            .Produces(200, contentType: "text/event-stream")
            .ProducesProblem(400)
            .ProducesProblem(404);

    private sealed class LiveResult(HostedBench hosted, long? afterFinding, long? afterAlarm) : IResult
    {
        public async Task ExecuteAsync(HttpContext httpContext)
        {
            HttpResponse response = httpContext.Response;
            Caller caller = Caller.Of(httpContext);
            using var over = CancellationTokenSource.CreateLinkedTokenSource(httpContext.RequestAborted, caller.Ended);
            CancellationToken gone = over.Token;
            response.ContentType = "text/event-stream";
            response.Headers.CacheControl = "no-store";
            response.Headers["X-Accel-Buffering"] = "no"; // a proxy in front must not hold events back
            httpContext.Features.Get<IHttpResponseBodyFeature>()?.DisableBuffering();
            LiveClient client = hosted.Feed.Join(afterFinding, afterAlarm);
            caller.Session?.Enter();
            try
            {
                bool greeted = false;
                while (await client.Waiting.WaitToReadAsync(gone))
                {
                    while (client.Waiting.TryRead(out byte[]? message))
                    {
                        await response.BodyWriter.WriteAsync(message, gone);
                        if (!greeted)
                        {
                            greeted = true;
                            await SendMissedAsync(response, client, gone);
                        }
                    }
                }
            }
            catch (OperationCanceledException)
            {
                // The client went away, the usual end of a stream, or its right to listen ended.
            }
            finally
            {
                hosted.Feed.Leave(client);
                caller.Session?.Leave();
            }
        }

        /// <summary>
        /// Lines the client missed while it was away, up to where the feed's own messages begin: findings, then alarms. The id of
        /// each says of the other kind what the client had, so that a break in between loses nothing.
        /// </summary>
        private async Task SendMissedAsync(HttpResponse response, LiveClient client, CancellationToken gone)
        {
            LiveCursor at = client.From;
            while (at.Finding < client.JoinedAt.Finding && hosted.View.Findings(at.Finding, BacklogPage).Rows is { Count: > 0 } rows)
            {
                foreach (FindingRow row in rows.Where(row => row.Cursor <= client.JoinedAt.Finding))
                {
                    await response.BodyWriter.WriteAsync(LiveMessages.Finding(row, at with { Finding = row.Cursor }), gone);
                }

                at = at with { Finding = rows[^1].Cursor };
            }

            at = at with { Finding = client.JoinedAt.Finding };
            while (at.Alarm < client.JoinedAt.Alarm && hosted.View.Alarms(at.Alarm, BacklogPage).Rows is { Count: > 0 } rows)
            {
                foreach (AlarmRow row in rows.Where(row => row.Cursor <= client.JoinedAt.Alarm))
                {
                    await response.BodyWriter.WriteAsync(LiveMessages.Alarm(row, at with { Alarm = row.Cursor }), gone);
                }

                at = at with { Alarm = rows[^1].Cursor };
            }
        }
    }
}
