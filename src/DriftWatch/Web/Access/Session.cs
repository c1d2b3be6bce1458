namespace DriftWatch.Web.Access;

/// <summary>One sign-in on the page. It ends by sign-out, by its age, unused, or with the token it was made by.</summary>
internal sealed class Session : IDisposable
{
    private readonly TimeProvider _time;
    private readonly CancellationTokenSource _ended;
    private readonly long _began;
    private long _used;
    private int _open;

    public Session(Person person, TimeProvider time)
    {
        (Person, _time) = (person, time);
        _began = _used = time.GetTimestamp();
        _ended = CancellationTokenSource.CreateLinkedTokenSource(person.Gone);
        Ended = _ended.Token;
    }

    public Person Person { get; }

    public TimeSpan Age => _time.GetElapsedTime(_began);

    /// <summary>Nothing while a page is open on it.</summary>
    public TimeSpan Unused => Volatile.Read(ref _open) > 0 ? TimeSpan.Zero : _time.GetElapsedTime(Volatile.Read(ref _used));

    public CancellationToken Ended { get; }

    public void Use() => Volatile.Write(ref _used, _time.GetTimestamp());

    /// <summary>A page stays open; <see cref="Leave"/> says that it went.</summary>
    public void Enter() => Interlocked.Increment(ref _open);

    public void Leave()
    {
        Use();
        Interlocked.Decrement(ref _open);
    }

    /// <summary>Null while it holds, else why not.</summary>
    public string? WhyOver(SessionSettings settings) =>
        Person.Gone.IsCancellationRequested ? "the token was taken away"
        : Age >= settings.Longest ? "it was as long as one may last"
        : Unused >= settings.Idle ? "nobody used it"
        : null;

    /// <summary>Ends it, and what streams on it.</summary>
    public void Dispose()
    {
        _ended.Cancel();
        _ended.Dispose();
    }
}
