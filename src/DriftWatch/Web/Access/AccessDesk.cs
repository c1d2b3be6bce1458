using System.Collections.Concurrent;
using System.Net;
using System.Security.Cryptography;
using System.Text;
using System.Threading.RateLimiting;
using DriftWatch.Configuration;

namespace DriftWatch.Web.Access;

/// <summary>What became of a token: a person, or a refusal; with a time to wait where there were too many.</summary>
internal readonly record struct TokenAnswer(Person? Person, TimeSpan? WaitFor = null);

/// <summary>
/// Who may come in now. Holds the people of the access file and looks every other second whether it changed: whose token is gone is
/// out, with all that he has open.
/// </summary>
internal sealed class AccessDesk : IDisposable
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(2);

    /// <summary>What a wrong token waits before it is told so; source: common practice, no source.</summary>
    private static readonly TimeSpan WrongWaits = TimeSpan.FromSeconds(1);

    private readonly string? _path;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly ITimer? _look;
    private readonly Lock _looking = new(); // a look may take longer than the next waits
    private readonly SemaphoreSlim _stretching = new(1); // guesses may take one processor's time, not all of the bench's
    private readonly Lazy<PartitionedRateLimiter<IPAddress?>> _attempts = new(Rates.Attempts); // a limiter ticks ten times a second
    private readonly RefusalLimit _refusals = new();
    private readonly byte[] _ownKey = RandomNumberGenerator.GetBytes(32);
    private readonly ConcurrentDictionary<string, Person> _proved = new(StringComparer.Ordinal);
    private volatile Person[] _people = [];
    private volatile AccessSettings _settings = AccessSettings.None;
    private DateOnly _peopleOf;
    private (DateTime Written, long Length)? _seen;

    /// <param name="path">The access file; null where nobody can sign in.</param>
    /// <param name="time">Times the looks at it, and sign-ins.</param>
    /// <param name="logger">Where the audit goes.</param>
    /// <exception cref="InvalidDataException">The file has mistakes; the message lists them.</exception>
    public AccessDesk(string? path, TimeProvider time, ILogger logger)
    {
        (_path, _time, _logger) = (path, time, logger);
        if (path is not null)
        {
            _seen = Stamp(path);
            AccessFileResult result = AccessFile.Load(path);
            _settings = result.Settings ?? throw new InvalidDataException(string.Join(Environment.NewLine, result.Mistakes));
        }

        Proxy = _settings.Proxy;
        Sessions = new SessionDesk(time, () => _settings.Session, logger);
        TakePeople();
        if (path is not null)
        {
            AccessLog.InForce(logger, path, _people.Length, Proxy is null ? "none" : string.Join(", ", Proxy.Trusted));
            _look = time.CreateTimer(_ => Look(), null, LookEvery, LookEvery);
        }
    }

    public SessionDesk Sessions { get; }

    /// <summary>As it was at the start.</summary>
    public ProxySettings? Proxy { get; }

    public SessionSettings SessionSettings => _settings.Session;

    public bool HasTokens => _people.Length > 0;

    /// <summary>Holds a token against the file. The right one is stretched once and then known; a wrong one waits.</summary>
    /// <param name="token">As it was sent.</param>
    /// <param name="from">Where from, which the number of attempts is counted by.</param>
    /// <param name="cancel">Ends the waiting.</param>
    public async Task<TokenAnswer> ProveAsync(string token, IPAddress? from, CancellationToken cancel)
    {
        // Keyed, so that not even the memory of the process holds something that fits a stolen file.
        string known = Convert.ToBase64String(HMACSHA256.HashData(_ownKey, Encoding.UTF8.GetBytes(token)));
        if (Proved(known) is { } before)
        {
            return new TokenAnswer(before);
        }

        Person? named = Tokens.IdOf(token) is { } id ? _people.FirstOrDefault(p => p.Entry.TokenId == id) : null;
        TokenAnswer answer = named is null ? Attempt(from) : await StretchAsync(named, token, known, from, cancel);
        if (answer is { Person: null, WaitFor: null })
        {
            AccessLog.TokenRefused(_logger, Door.Plain(from), named is null ? "no such token is in the access file" : "it does not fit");
            await Task.Delay(WrongWaits, _time, cancel);
        }

        return answer;
    }

    /// <summary>Reads the file again if it changed, and ends what is over.</summary>
    public void Look()
    {
        lock (_looking)
        {
            (DateTime, long)? now = Stamp(_path!);
            if (now != _seen)
            {
                _seen = now;
                if (now is null)
                {
                    AccessLog.Gone(_logger, _path!);
                    _settings = _settings with { People = [], Ends = [] };
                    TakePeople();
                }
                else
                {
                    ReadAgain();
                }
            }
            else if (_peopleOf != Today)
            {
                TakePeople();
            }

            Sessions.Sweep();
        }
    }

    public void Dispose()
    {
        _look?.Dispose();
        _stretching.Dispose();
        if (_attempts.IsValueCreated)
        {
            _attempts.Value.Dispose();
        }

        _refusals.Dispose();
    }

    private void ReadAgain()
    {
        AccessFileResult result = AccessFile.Load(_path!, mayLetNobodyIn: true);
        if (result.Settings is not { } settings)
        {
            AccessLog.NotReadAgain(_logger, _path!, string.Join(" ", result.Mistakes));
            return;
        }

        _settings = settings;
        TakePeople();
        AccessLog.ReadAgain(_logger, _path!, _people.Length);
    }

    private DateOnly Today => DateOnly.FromDateTime(_time.GetUtcNow().UtcDateTime);

    /// <summary>Lets in whom the file has today. Who is the same as before keeps what he has open; the others are out.</summary>
    private void TakePeople()
    {
        _peopleOf = Today;
        foreach (TokenEnd end in _settings.OverOn(_peopleOf))
        {
            AccessLog.TokenOver(_logger, end.Over);
        }

        Person[] before = _people;
        _people = [.. _settings.PeopleOn(_peopleOf).Select(entry => before.FirstOrDefault(p => p.Entry == entry) ?? new Person(entry))];
        _proved.Clear();
        foreach (Person gone in before.Except(_people))
        {
            gone.Dispose();
        }
    }

    /// <summary>The person of a token that was stretched before; null where there is none, or he is gone.</summary>
    private Person? Proved(string known) => _proved.TryGetValue(known, out Person? person) && !person.Gone.IsCancellationRequested ? person : null;

    /// <summary>Counts an attempt; says how long to wait where there were too many.</summary>
    private TokenAnswer Attempt(IPAddress? from)
    {
        using RateLimitLease lease = _attempts.Value.AttemptAcquire(from);
        if (lease.IsAcquired)
        {
            return default;
        }

        if (_refusals.MaySay(from))
        {
            AccessLog.TokenRefused(_logger, Door.Plain(from), "too many attempts");
        }

        return new TokenAnswer(null, lease.TryGetMetadata(MetadataName.RetryAfter, out TimeSpan wait) ? wait : WrongWaits);
    }

    /// <summary>One at a time; of requests that come together with the same token the first stretches it for all, and counts as one attempt.</summary>
    private async Task<TokenAnswer> StretchAsync(Person person, string token, string known, IPAddress? from, CancellationToken cancel)
    {
        await _stretching.WaitAsync(cancel);
        try
        {
            if (Proved(known) is { } meanwhile)
            {
                return new TokenAnswer(meanwhile);
            }

            if (Attempt(from) is { WaitFor: not null } tooMany)
            {
                return tooMany;
            }

            if (!person.Entry.Hash.Fits(token))
            {
                return default;
            }

            _proved[known] = person;
            AccessLog.TokenGood(_logger, person.Entry.Name, person.Entry.Role.Word(), Door.Plain(from));
            return new TokenAnswer(person);
        }
        finally
        {
            _stretching.Release();
        }
    }

    private static (DateTime Written, long Length)? Stamp(string path)
    {
        var file = new FileInfo(path);
        return file.Exists ? (file.LastWriteTimeUtc, file.Length) : null;
    }
}
