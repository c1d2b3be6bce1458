using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Modbus;

/// <summary>
/// The master of one RTU line. One deadline for a whole reply; before each request the line is quiet for 3.5 characters,
/// at least 1.75 ms (MODBUS over Serial Line V1.02, section 2.5.1.1: a fixed 1.75 ms above 19,200 baud). A reply has no mark of its
/// request, so after a timeout the unit is left alone until its late reply can no longer come.
/// </summary>
internal sealed class ModbusMaster(PolledByteLine link, SerialFraming framing, int baud, TimeSpan replyTimeout, TimeProvider time)
{
    private readonly byte[] _frame = new byte[ModbusFrame.ReplyLength(ModbusFrame.MaximumRegisters)];
    private readonly Dictionary<int, long> _lateUntil = [];

    /// <summary>3.5 characters or 1.75 ms, whichever is longer.</summary>
    public TimeSpan Silence { get; } = TimeSpan.FromSeconds(Math.Max(3.5 * framing.BitsPerCharacter / baud, 0.00175));

    /// <summary>Stamps of the last request and of the last bytes that came for it.</summary>
    public long LastAsked { get; private set; }

    public long LastAnswered { get; private set; }

    /// <summary>Reads registers; the stamps are those of request and reply.</summary>
    /// <exception cref="PollException">No answer, a bad frame, or an exception code.</exception>
    public void Read(int unit, int function, int address, Span<ushort> into, out long asked, out long answered)
    {
        WaitForSilence(unit);
        Span<byte> request = stackalloc byte[ModbusFrame.RequestLength];
        ModbusFrame.WriteRequest(request, unit, function, address, into.Length);
        asked = LastAsked = time.GetTimestamp();
        link.Write(request);

        int due = ModbusFrame.ReplyLength(into.Length);
        int have = 0;
        while (have < due)
        {
            TimeSpan left = replyTimeout - time.GetElapsedTime(asked);
            int count = left > TimeSpan.Zero ? link.Read(_frame.AsSpan(have, due - have), left) : 0;
            if (count == 0)
            {
                break;
            }

            have += count;
            if (have >= ModbusFrame.ExceptionLength && _frame[0] == unit && _frame[1] == (function | 0x80))
            {
                due = ModbusFrame.ExceptionLength;
            }
        }

        answered = LastAnswered = link.LastArrival;
        if (have == 0)
        {
            _lateUntil[unit] = time.GetTimestamp() + (long)(replyTimeout.TotalSeconds * time.TimestampFrequency);
            throw new PollException(
                FaultCode.NoAnswer,
                $"unit {unit} does not answer within {replyTimeout.TotalMilliseconds:0} ms",
                "check power, the A and B wires, unit address, baud rate and parity");
        }

        switch (ModbusFrame.Read(_frame.AsSpan(0, Math.Min(have, due)), unit, function, into, out byte code))
        {
            case ModbusReply.Registers:
                return;
            case ModbusReply.Exception:
                throw new PollException(
                    FaultCode.InstrumentError,
                    $"unit {unit} answers exception {code} ({ModbusFrame.ExceptionName(code)}) for register {address}, function {function:00}",
                    code is 1 or 2 ? "check register and function in the profile against the instrument's manual" : "");
            case ModbusReply.BadCrc when have == due:
                throw new PollException(FaultCode.BadChecksum, $"a reply of unit {unit} came with a wrong CRC", "check shield, termination and that no two units share an address");
            case ModbusReply.Unexpected:
                throw new PollException(FaultCode.Garbled, $"a reply came that is not the one asked of unit {unit}", "check that no two masters share the line");
            default:
                throw new PollException(FaultCode.Garbled, $"a reply of unit {unit} broke off after {have} of {due} bytes", "check baud rate, cable and termination");
        }
    }

    /// <summary>Drops what comes until the line is quiet.</summary>
    private void WaitForSilence(int unit)
    {
        TimeSpan quiet = Silence;
        if (_lateUntil.Remove(unit, out long until))
        {
            TimeSpan late = time.GetElapsedTime(time.GetTimestamp(), until);
            quiet = late > quiet ? late : quiet;
        }

        if (!link.Drain(quiet, quiet + replyTimeout))
        {
            throw new PollException(FaultCode.Garbled, "the line is never quiet", "check baud rate and parity, termination, and that no other master talks on it");
        }
    }
}
