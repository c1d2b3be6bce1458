using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;

namespace DriftWatch.Web.Api;

/// <summary>Reads a JSON body, or answers with the field that is wrong and what to send.</summary>
internal static class RequestBody
{
    /// <param name="request">With Content-Type application/json, which <see cref="RequestGuard"/> has seen to.</param>
    /// <param name="remedy">What to send instead of a body that is none.</param>
    /// <param name="cancel">Ends the reading.</param>
    public static async Task<(T? Body, ProblemHttpResult? Problem)> ReadAsync<T>(HttpRequest request, string remedy, CancellationToken cancel)
        where T : class, new()
    {
        try
        {
            return (await request.ReadFromJsonAsync<T>(ApiJson.Options, cancel) ?? new T(), null);
        }
        catch (JsonException exception)
        {
            string field = exception.Path?.TrimStart('$', '.') is { Length: > 0 } path ? path : "body";
            return (null, Problems.BadParameter(field, "The body is no JSON object of these fields, or this field is unknown or of another type.", remedy));
        }
        catch (BadHttpRequestException exception) when (exception.StatusCode == StatusCodes.Status413PayloadTooLarge)
        {
            return (null, Problems.TooLarge(request.HttpContext.GetEndpoint()?.Metadata.GetMetadata<Microsoft.AspNetCore.Http.Metadata.IRequestSizeLimitMetadata>()?.MaxRequestBodySize));
        }
    }
}
