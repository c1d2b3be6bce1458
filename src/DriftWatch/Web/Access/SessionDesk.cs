using System.Buffers.Text;
using System.Collections.Concurrent;
using System.Security.Cryptography;
using System.Text;

namespace DriftWatch.Web.Access;

/// <summary>
/// The sign-ins of browsers, in memory only. A cookie holds 256 random bits; what is kept is their hash, so that looking one up tells
/// nobody by its time how much of a guess was right.
/// </summary>
internal sealed class SessionDesk(TimeProvider time, Func<SessionSettings> settings, ILogger logger)
{
    /// <summary>A person with more browsers than this loses the oldest; source: common practice, no source.</summary>
    private const int MostOfOne = 20;

    private const int SecretBytes = 32;

    private readonly ConcurrentDictionary<string, Session> _sessions = new(StringComparer.Ordinal);

    /// <returns>What the cookie holds.</returns>
    public string Begin(Person person)
    {
        KeyValuePair<string, Session>[] others = [.. _sessions.Where(s => s.Value.Person == person)];
        if (others.Length >= MostOfOne)
        {
            End(others.MaxBy(s => s.Value.Age).Key, "the same person signed in too often");
        }

        string secret = Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(SecretBytes));
        _sessions[KeyOf(secret)] = new Session(person, time);
        return secret;
    }

    /// <summary>The sign-in of a cookie, which is used by that; null where there is none, or it is over.</summary>
    public Session? Use(string secret)
    {
        string key = KeyOf(secret);
        if (!_sessions.TryGetValue(key, out Session? session))
        {
            return null;
        }

        if (session.WhyOver(settings()) is { } why)
        {
            End(key, why);
            return null;
        }

        session.Use();
        return session;
    }

    /// <summary>Signs out.</summary>
    public Person? End(string secret)
    {
        if (!_sessions.TryRemove(KeyOf(secret), out Session? session))
        {
            return null;
        }

        session.Dispose();
        return session.Person;
    }

    /// <summary>Ends what is over, streams included.</summary>
    public void Sweep()
    {
        foreach ((string key, Session session) in _sessions)
        {
            if (session.WhyOver(settings()) is { } why)
            {
                End(key, why);
            }
        }
    }

    private void End(string key, string why)
    {
        if (_sessions.TryRemove(key, out Session? session))
        {
            session.Dispose();
            AccessLog.Ended(logger, session.Person.Entry.Name, why);
        }
    }

    private static string KeyOf(string secret) => Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(secret)));
}
