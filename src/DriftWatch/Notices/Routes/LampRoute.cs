using System.Device.Gpio;
using System.Device.Gpio.Drivers;
using DriftWatch.Measurement.Alarms;

namespace DriftWatch.Notices.Routes;

/// <summary>A contact that is open or closed, whatever makes it.</summary>
internal interface IContact : IDisposable
{
    void Set(bool closed);
}

/// <summary>
/// A lamp or a horn on a contact: closed while an alarm of its priority waits for an answer, open when there is none, when
/// the service stops, and when it is not there. It warns and does nothing else: nothing of the machine hangs on it.
/// </summary>
internal sealed class LampRoute(LampSettings settings, TimeProvider time, Func<IContact>? contact = null) : INoticeRoute
{
    private static readonly TimeSpan Flash = TimeSpan.FromSeconds(1);

    private readonly Func<IContact> _open = contact ?? (() => new GpioContact(settings));
    private readonly Lock _gate = new();
    private IContact? _contact;
    private bool? _closed;
    private bool _flashing;
    private bool _wanted;
    private HashSet<string> _known = [];
    private bool _hasSounded;
    private long _since;

    /// <summary>Whether the contact is closed; null before it was ever set, or when setting it failed.</summary>
    public bool? IsClosed => _closed;

    /// <summary>What a horn does not sound for again: it stood before the service began or other settings came into force.</summary>
    public void Know(IEnumerable<string> calls)
    {
        lock (_gate)
        {
            _known = [.. calls];
        }
    }

    /// <summary>Closes or opens it by what waits for an answer, each told by what called for it. Throws where the contact can't be set.</summary>
    public void Show(IReadOnlyCollection<string> calls)
    {
        lock (_gate)
        {
            if (calls.Any(c => !_known.Contains(c)))
            {
                (_hasSounded, _since) = (true, time.GetTimestamp()); // a horn sounds again with each that calls
            }

            _known = [.. calls];
            _wanted = calls.Count > 0 && (settings.Longest is not { } longest || (_hasSounded && time.GetElapsedTime(_since) < longest));
            if (!_flashing)
            {
                Set(_wanted);
            }
        }
    }

    /// <summary>Closes the contact for a second, then leaves it as it should be.</summary>
    public async Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel)
    {
        try
        {
            lock (_gate)
            {
                _flashing = true;
                Set(true);
            }

            await Task.Delay(Flash, time, cancel);
            return new RouteAnswer(true, $"the contact on line {settings.Pin} was closed for a second; whether the lamp was lit only you can see");
        }
        catch (Exception exception) when (exception is not OperationCanceledException)
        {
            return Words(exception);
        }
        finally
        {
            lock (_gate)
            {
                _flashing = false;
                _closed = null; // set anew by the next turn, and here, where it can be
                TrySet(_wanted);
            }
        }
    }

    public Task<RouteAnswer> CheckAsync(CancellationToken cancel)
    {
        lock (_gate)
        {
            try
            {
                _contact ??= _open();
                return Task.FromResult(new RouteAnswer(true, $"line {settings.Pin} of chip {settings.Chip} is ours"));
            }
            catch (Exception exception)
            {
                return Task.FromResult(Words(exception));
            }
        }
    }

    public ValueTask DisposeAsync()
    {
        lock (_gate)
        {
            if (_contact is not null)
            {
                TrySet(false);
                _contact.Dispose();
                _contact = null;
            }
        }

        return ValueTask.CompletedTask;
    }

    internal RouteAnswer Words(Exception exception) => new(false, $"the contact can't be set: {RouteWords.Line(exception)}")
    {
        Remedy = $"look whether /dev/gpiochip{settings.Chip} is there, whether this user may use it (group gpio), whether libgpiod is installed, and whether another program holds the line",
    };

    private void TrySet(bool closed)
    {
        try
        {
            Set(closed);
        }
#pragma warning disable CA1031 // it is tried again each second, and told then
        catch (Exception)
#pragma warning restore CA1031
        {
            _closed = null;
        }
    }

    private void Set(bool closed)
    {
        if (_closed == closed)
        {
            return;
        }

        try
        {
            _contact ??= _open();
            _contact.Set(closed);
            _closed = closed;
        }
        catch
        {
            _closed = null;
            _contact?.Dispose();
            _contact = null; // opened anew by the next try: a line that was in use may be free
            throw;
        }
    }

    /// <summary>A line of a Linux GPIO chip.</summary>
    private sealed class GpioContact : IContact
    {
        private readonly GpioController _controller;
        private readonly LampSettings _settings;

        public GpioContact(LampSettings settings)
        {
            _settings = settings;
            _controller = new GpioController(new LibGpiodDriver(settings.Chip));
            _controller.OpenPin(settings.Pin, PinMode.Output, Level(false));
        }

        public void Set(bool closed) => _controller.Write(_settings.Pin, Level(closed));

        public void Dispose() => _controller.Dispose();

        private PinValue Level(bool closed) => closed != _settings.ActiveLow ? PinValue.High : PinValue.Low;
    }
}
