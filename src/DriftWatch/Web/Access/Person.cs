namespace DriftWatch.Web.Access;

/// <summary>A person for as long as the access file has the same of him.</summary>
internal sealed class Person : IDisposable
{
    private readonly CancellationTokenSource _gone = new();

    public Person(PersonEntry entry) => (Entry, Gone) = (entry, _gone.Token);

    public PersonEntry Entry { get; }

    /// <summary>Is set once his token was taken away or changed, or his role was.</summary>
    public CancellationToken Gone { get; }

    /// <summary>He is out, with all that he has open.</summary>
    public void Dispose()
    {
        _gone.Cancel();
        _gone.Dispose();
    }

    /// <summary>Who asks with his token, by itself or by a sign-in that it made.</summary>
    public Caller Calling(Session? session) =>
        new(Entry.Name, Entry.Role, Caller.ByToken) { Session = session, Ended = session?.Ended ?? Gone };
}
