namespace DriftWatch.Web.Access;

/// <summary>One sign-in on the page. It ends by sign-out, by its age, unused, or with the token it was made by.</summary>
internal sealed class Session(Person person, TimeProvider time)
{
    private readonly CancellationTokenSource _ended = CancellationTokenSource.CreateLinkedTokenSource(person.Gone);
    private readonly long _began = time.GetTimestamp();
    private long _used = time.GetTimestamp();
    private int _open;

    public Person Person => person;

    public TimeSpan Age => time.GetElapsedTime(_began);

    /// <summary>Nothing while a page is open on it.</summary>
    public TimeSpan Unused => Volatile.Read(ref _open) > 0 ? TimeSpan.Zero : time.GetElapsedTime(Volatile.Read(ref _used));

    public CancellationToken Ended => _ended.Token;

    public void Use() => Volatile.Write(ref _used, time.GetTimestamp());

    /// <summary>A page stays open; <see cref="Leave"/> says that it went.</summary>
    public void Enter() => Interlocked.Increment(ref _open);

    public void Leave()
    {
        Use();
        Interlocked.Decrement(ref _open);
    }

    /// <summary>Null while it holds, else why not.</summary>
    public string? WhyOver(SessionSettings settings) =>
        person.Gone.IsCancellationRequested ? "the token was taken away"
        : Age >= settings.Longest ? "it was as long as one may last"
        : Unused >= settings.Idle ? "nobody used it"
        : null;

    public void End() => _ended.Cancel();
}
