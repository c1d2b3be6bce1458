namespace DriftWatch.Web.Access;

/// <summary>A person for as long as the access file has the same of him.</summary>
internal sealed class Person(PersonEntry entry)
{
    private readonly CancellationTokenSource _gone = new();

    public PersonEntry Entry => entry;

    /// <summary>Is set once his token was taken away or changed, or his role was.</summary>
    public CancellationToken Gone => _gone.Token;

    public void Go() => _gone.Cancel();

    /// <summary>Who asks with his token, by itself or by a sign-in that it made.</summary>
    public Caller Calling(Session? session) =>
        new(entry.Name, entry.Role, Caller.ByToken) { Session = session, Ended = session?.Ended ?? Gone };
}
