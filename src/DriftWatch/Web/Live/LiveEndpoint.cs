using System.ComponentModel;
using System.Globalization;
using DriftWatch.Running;
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
                [Description("Cursor of the newest finding line already known; absent: only new ones come.")] string? after,
                [FromHeader(Name = "Last-Event-ID")][Description("Sent by browsers when they connect again; goes before 'after'.")] string? lastEventId) =>
            {
                if (!benches.TryGet(bench, out HostedBench? hosted))
                {
                    return Problems.NoBench(bench);
                }

                long? from = null;
                if (!string.IsNullOrEmpty(lastEventId)
                    && long.TryParse(lastEventId, NumberStyles.None, CultureInfo.InvariantCulture, out long last))
                {
                    from = last; // a foreign id is no error: a browser would stop for good
                }
                else if (!string.IsNullOrEmpty(after))
                {
                    if (!Parameters.TryCursor(after, "after", out long cursor, out ProblemHttpResult? problem))
                    {
                        return problem;
                    }

                    from = cursor;
                }

                return new LiveResult(hosted, from);
            })
            .WithSummary("Numbers, state, line notices and findings as Server-Sent Events")
            .Produces(200, contentType: "text/event-stream")
            .ProducesProblem(400)
            .ProducesProblem(404);

    private sealed class LiveResult(HostedBench hosted, long? from) : IResult
    {
        public async Task ExecuteAsync(HttpContext httpContext)
        {
            HttpResponse response = httpContext.Response;
            CancellationToken gone = httpContext.RequestAborted;
            response.ContentType = "text/event-stream";
            response.Headers.CacheControl = "no-store";
            response.Headers["X-Accel-Buffering"] = "no"; // a proxy in front must not hold events back
            httpContext.Features.Get<IHttpResponseBodyFeature>()?.DisableBuffering();
            LiveClient client = hosted.Feed.Join(from);
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
                // The client went away: the usual end of a stream.
            }
            finally
            {
                hosted.Feed.Leave(client);
            }
        }

        /// <summary>Findings the client missed while it was away, up to where the feed's own messages begin.</summary>
        private async Task SendMissedAsync(HttpResponse response, LiveClient client, CancellationToken gone)
        {
            long cursor = client.FromCursor;
            while (cursor < client.JoinedAtCursor)
            {
                FindingPage page = hosted.View.Findings(cursor, BacklogPage);
                if (page.Rows.Count == 0)
                {
                    return;
                }

                foreach (FindingRow row in page.Rows.Where(row => row.Cursor <= client.JoinedAtCursor))
                {
                    await response.BodyWriter.WriteAsync(LiveMessages.Finding(row), gone);
                }

                cursor = page.Rows[^1].Cursor;
            }
        }
    }
}
