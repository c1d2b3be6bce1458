using DriftWatch.Configuration;

namespace DriftWatch.Notices.Routes;

/// <summary>A secret can't be had.</summary>
internal sealed class SecretException(string message, string remedy) : Exception(message)
{
    public string Remedy { get; } = remedy;
}

/// <summary>Reads a secret each time it is needed, so that a changed one holds at once and none stays in memory or in a log.</summary>
internal static class Secrets
{
    private const int LongestBytes = 4096;

    /// <exception cref="SecretException">It is not there, or not kept as a secret.</exception>
    public static string Read(SecretPlace place)
    {
        if (place.Variable is { } variable)
        {
            return Environment.GetEnvironmentVariable(variable) is { Length: > 0 } value
                ? value
                : throw new SecretException($"the environment has no {variable}", $"set {variable} where the service is started");
        }

        string path = place.File!;
        try
        {
            if (OwnerOnly.WhyNot(path) is { } why)
            {
                throw new SecretException(why.What, why.Remedy);
            }

            if (new FileInfo(path).Length > LongestBytes)
            {
                throw new SecretException($"{path} is too long to be a secret", "name the file that holds the secret and nothing else");
            }

            string text = File.ReadAllText(path).TrimEnd('\r', '\n');
            return text.Length > 0 ? text : throw new SecretException($"{path} is empty", "write the secret into it");
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            throw new SecretException($"{path} can't be read: {RouteWords.Line(exception)}", "look at its name, and that its owner is who runs the service");
        }
    }

    /// <summary>Null while it can be read; else what is wrong and what to do.</summary>
    public static (string What, string Remedy)? WhyNot(SecretPlace place)
    {
        try
        {
            _ = Read(place);
            return null;
        }
        catch (SecretException exception)
        {
            return (exception.Message, exception.Remedy);
        }
    }
}
