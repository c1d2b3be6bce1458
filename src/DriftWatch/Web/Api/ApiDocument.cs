using Microsoft.AspNetCore.OpenApi;

namespace DriftWatch.Web.Api;

/// <summary>What the OpenAPI document says of the API as a whole.</summary>
internal static class ApiDocument
{
    public static void Describe(OpenApiOptions options) => options.AddDocumentTransformer((document, _, _) =>
    {
        document.Info.Title = "DriftWatch";
        document.Info.Version = "1";
        document.Info.Description =
            "Benches, their channels, history, findings and health. Times are ISO 8601 in UTC, values in the unit named "
            + "beside them, errors are problem details after RFC 9457 with a 'remedy'. DriftWatch is no safety interlock.";
        return Task.CompletedTask;
    });
}
