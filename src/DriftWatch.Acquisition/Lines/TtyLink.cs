using System.Runtime.InteropServices;
using System.Runtime.Versioning;

namespace DriftWatch.Acquisition.Lines;

/// <summary>
/// A serial port of Linux by its own calls: poll on the port and on an event, then read. Against the portable class
/// it loses no bytes at a timeout, notices a hang-up at once, and idles without polling; it also sets any baud rate.
/// </summary>
[SupportedOSPlatform("linux")]
internal sealed class TtyLink : IByteLink
{
    /// <summary>A port that takes no byte for this long is stalled. Common practice, no source.</summary>
    private static readonly TimeSpan WriteLimit = TimeSpan.FromSeconds(1);

    private readonly Lock _closing = new();
    private readonly TimeProvider _time;
    private readonly int _port;
    private readonly int _event;
    private bool _closed;
    private int _users;

    private TtyLink(string name, int port, int wake, TimeProvider time)
    {
        Name = name;
        _port = port;
        _event = wake;
        _time = time;
    }

    public string Name { get; }

    public long LastArrival { get; private set; }

    /// <summary>Opens and sets the port; false when its driver can't be set this way and the portable class must try.</summary>
    /// <exception cref="LinkException">Missing, denied, busy, or not a serial port.</exception>
    public static bool TryOpen(SerialSettings settings, TimeProvider time, out TtyLink? link)
    {
        link = null;
        int port = TtyNative.Open(
            settings.Port,
            TtyNative.OpenReadWrite | TtyNative.OpenNoControllingTerminal | TtyNative.OpenNonBlocking | TtyNative.OpenCloseOnExec);
        if (port < 0)
        {
            throw OpenFailed(settings.Port);
        }

        bool kept = false;
        try
        {
            // The exclusive flag keeps other users out, the lock keeps a second process of the same user out, root too.
            if (TtyNative.Lock(port, TtyNative.LockExclusiveNoWait) != 0)
            {
                throw LinkErrors.OpenFailed(settings.Port, LinkErrors.Busy, "");
            }

            if (!Configure(port, settings))
            {
                return false;
            }

            _ = TtyNative.Control(port, TtyNative.Exclusive, 0);
            SetModemLines(port, settings);
            _ = TtyNative.Control(port, TtyNative.FlushBuffers, TtyNative.FlushBoth);
            int wake = TtyNative.EventDescriptor(0, TtyNative.EventNonBlocking | TtyNative.EventCloseOnExec);
            if (wake < 0)
            {
                throw OpenFailed(settings.Port);
            }

            link = new TtyLink(settings.Port, port, wake, time);
            kept = true;
            return true;
        }
        finally
        {
            if (!kept)
            {
                _ = TtyNative.Close(port);
            }
        }
    }

    public unsafe int Read(Span<byte> buffer, TimeSpan timeout)
    {
        using Use use = Enter();
        TtyNative.PollEntry* entries = stackalloc TtyNative.PollEntry[2];
        entries[0] = new TtyNative.PollEntry { Descriptor = _port, Events = TtyNative.PollIn };
        entries[1] = new TtyNative.PollEntry { Descriptor = _event, Events = TtyNative.PollIn };
        int ready = TtyNative.Poll(entries, 2, Milliseconds(timeout));
        if (ready < 0)
        {
            int error = Marshal.GetLastPInvokeError();
            return error == TtyNative.Interrupted ? 0 : throw Died(error);
        }

        if ((entries[1].Returned & TtyNative.PollIn) != 0)
        {
            ulong count;
            _ = TtyNative.Read(_event, (byte*)&count, sizeof(ulong));
        }

        if (entries[0].Returned == 0)
        {
            return 0;
        }

        if ((entries[0].Returned & TtyNative.PollIn) != 0)
        {
            nint read;
            fixed (byte* start = buffer)
            {
                read = TtyNative.Read(_port, start, buffer.Length);
            }

            LastArrival = _time.GetTimestamp();
            if (read > 0)
            {
                return (int)read;
            }

            int error = Marshal.GetLastPInvokeError();
            if (read < 0 && error is TtyNative.Again or TtyNative.Interrupted)
            {
                return 0;
            }

            throw read == 0 ? LinkErrors.Died(Name, "the other end hung up") : Died(error);
        }

        throw LinkErrors.Died(Name, "the other end hung up");
    }

    public unsafe void Write(ReadOnlySpan<byte> bytes)
    {
        using Use use = Enter();
        long start = _time.GetTimestamp();
        while (bytes.Length > 0)
        {
            nint written;
            fixed (byte* first = bytes)
            {
                written = TtyNative.Write(_port, first, bytes.Length);
            }

            if (written > 0)
            {
                bytes = bytes[(int)written..];
                continue;
            }

            int error = Marshal.GetLastPInvokeError();
            if (written < 0 && error is not (TtyNative.Again or TtyNative.Interrupted))
            {
                throw Died(error);
            }

            if (_time.GetElapsedTime(start) > WriteLimit)
            {
                throw LinkErrors.WriteStalled(Name);
            }

            var entry = new TtyNative.PollEntry { Descriptor = _port, Events = TtyNative.PollOut };
            _ = TtyNative.Poll(&entry, 1, 100);
            if ((entry.Returned & (TtyNative.PollHangUp | TtyNative.PollError)) != 0)
            {
                throw LinkErrors.Died(Name, "the other end hung up");
            }
        }
    }

    public unsafe void Wake()
    {
        lock (_closing)
        {
            if (!_closed)
            {
                ulong one = 1;
                _ = TtyNative.Write(_event, (byte*)&one, sizeof(ulong));
            }
        }
    }

    /// <summary>Closes at once, or as soon as a read or write under way has been woken: a descriptor in use is never closed.</summary>
    public void Dispose()
    {
        Wake();
        lock (_closing)
        {
            if (_closed)
            {
                return;
            }

            _closed = true;
            if (_users == 0)
            {
                CloseDescriptors();
            }
        }
    }

    private static int Milliseconds(TimeSpan timeout) => timeout == Timeout.InfiniteTimeSpan
        ? -1
        : (int)Math.Clamp(Math.Ceiling(timeout.TotalMilliseconds), 0, int.MaxValue);

    private static LinkException OpenFailed(string port)
    {
        int error = Marshal.GetLastPInvokeError();
        return LinkErrors.OpenFailed(port, error, Marshal.GetPInvokeErrorMessage(error));
    }

    private static unsafe bool Configure(int port, SerialSettings settings)
    {
        TtyNative.Termios2 termios;
        if (TtyNative.Control(port, TtyNative.GetTermios2, &termios) != 0)
        {
            int error = Marshal.GetLastPInvokeError();
            if (error == LinkErrors.NotATerminal)
            {
                throw LinkErrors.OpenFailed(settings.Port, error, "");
            }

            return false;
        }

        SerialFraming framing = settings.Framing;
        uint control = TtyNative.ControlRead | TtyNative.ControlLocal | TtyNative.ControlOtherBaud
            | (((uint)framing.DataBits - 5) << 4);
        control |= framing.StopBits == 2 ? TtyNative.ControlTwoStop : 0;
        control |= framing.Parity switch
        {
            'E' => TtyNative.ControlParity,
            'O' => TtyNative.ControlParity | TtyNative.ControlOdd,
            _ => 0u,
        };

        // Raw both ways; hang-up-on-close stays off, so that opening again does not reset a board that listens to DTR.
        // Characters of wrong parity are dropped: the line's grammar or checksum then rejects what they tore.
        termios.InputFlags = TtyNative.InputIgnoreBreak
            | (framing.Parity == 'N' ? 0 : TtyNative.InputCheckParity | TtyNative.InputIgnoreParity);
        termios.OutputFlags = 0;
        termios.LocalFlags = 0;
        termios.ControlFlags = control;
        termios.Line = 0;
        termios.ControlCharacters[5] = 0; // VTIME
        termios.ControlCharacters[6] = 1; // VMIN
        termios.InputSpeed = (uint)settings.Baud;
        termios.OutputSpeed = (uint)settings.Baud;
        return TtyNative.Control(port, TtyNative.SetTermios2, &termios) == 0;
    }

    private static unsafe void SetModemLines(int port, SerialSettings settings)
    {
        Set(settings.Dtr, TtyNative.ModemDtr, "dtr");
        Set(settings.Rts, TtyNative.ModemRts, "rts");

        void Set(bool? level, int bit, string key)
        {
            if (level is bool on
                && TtyNative.Control(port, on ? TtyNative.ModemBitsSet : TtyNative.ModemBitsClear, &bit) != 0)
            {
                throw new LinkException(
                    $"port '{settings.Port}' does not let {key} be set",
                    $"leave {key} out of the bench file for this port");
            }
        }
    }

    private LinkException Died(int error) => LinkErrors.Died(Name, Marshal.GetPInvokeErrorMessage(error));

    private Use Enter()
    {
        lock (_closing)
        {
            if (_closed)
            {
                throw LinkErrors.Died(Name, "it was closed");
            }

            _users++;
            return new Use(this);
        }
    }

    private void Leave()
    {
        lock (_closing)
        {
            _users--;
            if (_closed && _users == 0)
            {
                CloseDescriptors();
            }
        }
    }

    private void CloseDescriptors()
    {
        _ = TtyNative.Close(_port);
        _ = TtyNative.Close(_event);
    }

    private readonly ref struct Use(TtyLink link)
    {
        public void Dispose() => link.Leave();
    }
}
