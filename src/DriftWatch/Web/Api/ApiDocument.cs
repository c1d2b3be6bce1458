using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.OpenApi;
using Microsoft.AspNetCore.RateLimiting;
using Microsoft.OpenApi;

namespace DriftWatch.Web.Api;

/// <summary>What the OpenAPI document says of the API as a whole, and of who may use each part of it.</summary>
internal static class ApiDocument
{
    private const string TokenScheme = "token";
    private const string CookieScheme = "session";

    public static void Describe(OpenApiOptions options)
    {
        options.AddDocumentTransformer((document, _, _) =>
        {
            document.Info.Title = "DriftWatch";
            document.Info.Version = "1";
            document.Info.Description =
                "Benches, their channels, history, findings and health. Times are ISO 8601 in UTC, values in the unit named "
                + "beside them, errors are problem details after RFC 9457 with a 'remedy'. On the machine itself no sign-in is needed and each "
                + "act declares a name; from elsewhere readers see and operators act. DriftWatch is no safety interlock.";
            document.AddComponent(TokenScheme, new OpenApiSecurityScheme
            {
                Type = SecuritySchemeType.Http,
                Scheme = "bearer",
                Description = "A token made by 'driftwatch access add', for programs. Not needed on loopback.",
            });
            document.AddComponent(CookieScheme, new OpenApiSecurityScheme
            {
                Type = SecuritySchemeType.ApiKey,
                In = ParameterLocation.Cookie,
                Name = "driftwatch-8077",
                Description = "The cookie that POST /api/v1/session gives to a browser: driftwatch- and the port, over TLS __Host-driftwatch- and the port.",
            });
            return Task.CompletedTask;
        });
        options.AddOperationTransformer((operation, context, _) =>
        {
            IList<object> metadata = context.Description.ActionDescriptor.EndpointMetadata;
            if (!metadata.OfType<IAllowAnonymous>().Any())
            {
                DescribeAccess(operation, context, isAct: metadata.OfType<IAuthorizeData>().Any());
            }

            if (metadata.OfType<EnableRateLimitingAttribute>().Any())
            {
                Add(operation, "429", "Too often; Retry-After says how long to wait.");
            }

            return Task.CompletedTask;
        });
    }

    private static void DescribeAccess(OpenApiOperation operation, OpenApiOperationTransformerContext context, bool isAct)
    {
        operation.Security =
        [
            new OpenApiSecurityRequirement { [new OpenApiSecuritySchemeReference(TokenScheme, context.Document)] = [] },
            new OpenApiSecurityRequirement { [new OpenApiSecuritySchemeReference(CookieScheme, context.Document)] = [] },
            new OpenApiSecurityRequirement(), // loopback
        ];
        operation.Description = isAct ? "Needs an operator." : "Needs a reader or an operator.";
        Add(operation, "401", "Not signed in, or the token was refused.");
        if (isAct)
        {
            Add(operation, "403", "A reader, another name than the one signed in, or sent by a foreign page.");
        }
    }

    private static void Add(OpenApiOperation operation, string status, string description)
    {
        operation.Responses ??= [];
        operation.Responses[status] = new OpenApiResponse
        {
            Description = description,
            Content = new Dictionary<string, OpenApiMediaType>(StringComparer.Ordinal) { ["application/problem+json"] = new OpenApiMediaType() },
        };
    }
}
