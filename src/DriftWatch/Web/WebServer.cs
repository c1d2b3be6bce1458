using DriftWatch.Running;
using DriftWatch.Web.Access;
using DriftWatch.Web.Api;
using DriftWatch.Web.Api.Spans;
using DriftWatch.Web.Api.Transfers;
using DriftWatch.Web.Live;
using Microsoft.AspNetCore.ResponseCompression;
using Microsoft.Extensions.DependencyInjection.Extensions;
using Microsoft.Extensions.FileProviders;

namespace DriftWatch.Web;

/// <summary>
/// Puts the page, the API and the health answers of running benches on a web application. The caller owns the host and
/// its addresses; loopback is the sensible one.
/// </summary>
public static class WebServer
{
    /// <summary>What <see cref="MapDriftWatch"/> needs of the container; call it before the application is built.</summary>
    public static WebApplicationBuilder AddDriftWatchWeb(this WebApplicationBuilder builder, WebSettings? settings = null)
    {
        builder.Services.TryAddSingleton(TimeProvider.System);
        builder.Services.AddSingleton(settings ?? new WebSettings());
        builder.Services.AddProblemDetails(options => options.CustomizeProblemDetails = context => Problems.Complete(context.ProblemDetails));
        builder.Services.ConfigureHttpJsonOptions(options => ApiJson.Configure(options.SerializerOptions));
        builder.Services.AddAccess();
        builder.Services.AddResponseCompression(options => // JSON; the page's files are packed already, what is streamed is left as it is
        {
            options.EnableForHttps = true; // no answer holds a secret beside what a stranger may have written
            options.Providers.Add<BrotliCompressionProvider>();
            options.Providers.Add<GzipCompressionProvider>();
        });
        builder.Services.AddOpenApi("v1", ApiDocument.Describe);
        builder.WebHost.ConfigureKestrel(options =>
        {
            options.AddServerHeader = false;
            options.Limits.MaxRequestBodySize = 64 * 1024; // a command is a name and a sentence
        });
        return builder;
    }

    /// <summary>Maps everything under <c>/</c>, <c>/api/v1</c>, <c>/healthz</c> and <c>/readyz</c>.</summary>
    /// <exception cref="InvalidOperationException">Two benches share an id, or <see cref="AddDriftWatchWeb"/> was not called.</exception>
    /// <exception cref="InvalidDataException">The access file has mistakes; the message lists them.</exception>
    public static WebApplication MapDriftWatch(this WebApplication app, IReadOnlyList<IBenchView> benches)
    {
        ArgumentNullException.ThrowIfNull(benches);
        WebSettings settings = app.Services.GetService<WebSettings>()
            ?? throw new InvalidOperationException($"Call {nameof(AddDriftWatchWeb)} on the builder first.");
        TimeProvider time = app.Services.GetRequiredService<TimeProvider>();
        ILogger logger = app.Services.GetRequiredService<ILoggerFactory>().CreateLogger("DriftWatch.Web");
        ILogger audit = app.Services.GetRequiredService<ILoggerFactory>().CreateLogger(AccessLog.Category);
        var hosted = new HostedBenches(
            [.. benches.Select(bench => new HostedBench(bench, new LiveFeed(bench, settings, time, logger, app.Lifetime.ApplicationStopping)))],
            time.GetTimestamp(),
            time,
            settings);

        app.UseDoor();
        app.UseMiddleware<RequestGuard>();
        app.UseResponseCompression();
        app.UseExceptionHandler();
        app.UseStatusCodePages();
        UsePage(app);
        app.UseAccess();

        RouteGroupBuilder api = app.MapGroup("/api/v1");
        ReadEndpoints.Map(api, hosted);
        FindingEndpoints.Map(api, hosted);
        AlarmEndpoints.Map(api, hosted);
        WhatIfEndpoints.Map(api, hosted, new WhatIfDesk(time, logger, app.Lifetime.ApplicationStopping), audit);
        CommandEndpoints.Map(api, hosted, logger, audit);
        TransferEndpoints.Map(api, hosted, logger, audit);
        LiveEndpoint.Map(api, hosted);
        SessionEndpoints.Map(api, app.Services.GetRequiredService<AccessDesk>(), audit);
        NoticeEndpoints.Map(api, hosted, audit);
        MirrorEndpoints.Map(api, hosted, new SiteDesk(time));
        HeadEndpoints.Map(api, hosted);
        MeasureEndpoints.Map(api, time);
        CalibrationEndpoints.Map(api, hosted, logger, audit);
        SpanEndpoints.Map(api, hosted, new QuantityDesk(time));
        ReportEndpoints.Map(api, hosted, time);
        TransferPapers.Map(api, hosted, time);
        HandOverEndpoints.Map(api, hosted);
        MaintenanceEndpoints.Map(api, hosted);
        HealthEndpoints.Map(app, api, hosted);
        app.MapOpenApi("/api/v1/openapi.json");
        return app;
    }

    private static void UsePage(WebApplication app)
    {
        var page = new PageFiles(new ManifestEmbeddedFileProvider(typeof(WebServer).Assembly, "Web/Page"));
        app.Use(async (context, next) =>
        {
            if (!await page.TryAnswerAsync(context))
            {
                await next(context);
            }
        });
    }
}
