using DriftWatch.Web.Access;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using Xunit;

namespace DriftWatch.Tests.Web.Access;

/// <summary>How long a sign-in holds, by a clock that is turned by hand.</summary>
public sealed class SessionTests : IDisposable
{
    private static readonly SessionSettings Settings = new() { Idle = TimeSpan.FromMinutes(30), Longest = TimeSpan.FromHours(12) };
    private readonly FakeTimeProvider _time = new();
    private readonly SessionDesk _desk;
    private readonly Person _ida = new(new PersonEntry("Ida Wren", AccessRole.Operator, "k7f3q2m9", new TokenHash(100_000, "", "")));

    public SessionTests() => _desk = new SessionDesk(_time, () => Settings, NullLogger.Instance);

    public void Dispose() => _ida.Dispose();

    [Fact]
    public void It_holds_while_it_is_used_and_ends_after_half_an_hour_without()
    {
        string secret = _desk.Begin(_ida);
        for (int i = 0; i < 4; i++)
        {
            _time.Advance(TimeSpan.FromMinutes(29));
            Assert.NotNull(_desk.Use(secret));
        }

        _time.Advance(TimeSpan.FromMinutes(30));
        Assert.Null(_desk.Use(secret));
    }

    [Fact]
    public void An_open_page_keeps_it_but_not_beyond_twelve_hours_and_what_it_streams_ends_then()
    {
        string secret = _desk.Begin(_ida);
        Session session = _desk.Use(secret)!;
        session.Enter();
        _time.Advance(TimeSpan.FromHours(11.9));
        _desk.Sweep();
        Assert.False(session.Ended.IsCancellationRequested);
        _time.Advance(TimeSpan.FromHours(0.1));
        _desk.Sweep();
        Assert.True(session.Ended.IsCancellationRequested);
        Assert.Null(_desk.Use(secret));
    }

    [Fact]
    public void The_half_hour_runs_from_when_the_page_was_closed()
    {
        string secret = _desk.Begin(_ida);
        Session session = _desk.Use(secret)!;
        session.Enter();
        _time.Advance(TimeSpan.FromHours(2));
        session.Leave();
        _time.Advance(TimeSpan.FromMinutes(29));
        Assert.NotNull(_desk.Use(secret));
    }

    [Fact]
    public void Who_lost_his_token_is_out_at_once()
    {
        var ben = new Person(new PersonEntry("Ben Moor", AccessRole.Reader, "m9k7f3q2", new TokenHash(100_000, "", "")));
        string secret = _desk.Begin(ben);
        Session session = _desk.Use(secret)!;
        ben.Dispose();
        Assert.True(session.Ended.IsCancellationRequested);
        Assert.Null(_desk.Use(secret));
    }

    [Fact]
    public void Signing_out_makes_the_cookie_worthless_and_a_guess_finds_nothing()
    {
        string secret = _desk.Begin(_ida);
        Assert.Null(_desk.Use(secret[..^1] + (secret[^1] == 'A' ? 'B' : 'A')));
        Assert.Same(_ida, _desk.End(secret));
        Assert.Null(_desk.Use(secret));
        Assert.Null(_desk.End(secret));
    }

    [Fact]
    public void The_oldest_of_too_many_goes()
    {
        string first = _desk.Begin(_ida);
        for (int i = 0; i < 19; i++)
        {
            _time.Advance(TimeSpan.FromSeconds(1));
            _desk.Begin(_ida);
        }

        Assert.NotNull(_desk.Use(first));
        _desk.Begin(_ida);
        Assert.Null(_desk.Use(first));
    }
}
