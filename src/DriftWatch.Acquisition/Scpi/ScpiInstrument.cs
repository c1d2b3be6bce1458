using System.Text;
using DriftWatch.Acquisition.Lines;
using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Scpi;

/// <summary>
/// An instrument that answers SCPI queries. A reply carries no mark of its question, so after any trouble nothing is
/// trusted until the line has been quiet for longer than the slowest reply takes and <c>*IDN?</c> has been answered as
/// it should: a client that only discards and asks again takes late replies for the answer to the next question.
/// </summary>
internal sealed class ScpiInstrument : IPolledInstrument
{
    private const int MaximumReply = 1024;
    private const int MaximumErrors = 20;

    private readonly PolledByteLine _link;
    private readonly ScpiFormat _format;
    private readonly TimeProvider _time;
    private readonly TimeSpan _replyTimeout;
    private readonly byte[][] _queries;
    private readonly byte[] _buffer = new byte[256];
    private readonly byte[] _reply = new byte[MaximumReply];
    private readonly byte[] _rest = new byte[256];
    private int _restLength;
    private int _replyLength;
    private bool _isFresh = true;
    private bool _hasErrorQueue = true;
    private string _identity = "";

    /// <param name="link">Just opened.</param>
    /// <param name="format">Setup, terminator and identity.</param>
    /// <param name="inputs">Of the profile; those without a query belong to nobody.</param>
    /// <param name="replyTimeout">The slowest reply.</param>
    /// <param name="time">For deadlines and stamps.</param>
    public ScpiInstrument(PolledByteLine link, ScpiFormat format, IReadOnlyList<ProfileInput> inputs, TimeSpan replyTimeout, TimeProvider time)
    {
        _link = link;
        _format = format;
        _time = time;
        _replyTimeout = replyTimeout;
        _queries = [.. inputs.Select(i => Encoding.ASCII.GetBytes((i.Query ?? "") + format.Terminator))];
    }

    public string Greet()
    {
        // A new connection has no late replies but what the instrument may still hold for the one before: a short look
        // is enough. After trouble the wait must outlast the slowest reply.
        TimeSpan quiet = _isFresh ? TimeSpan.FromMilliseconds(50) : _replyTimeout * 1.1;
        _restLength = 0;
        if (!_link.Drain(quiet, quiet + (_replyTimeout * 4)))
        {
            throw new PollException(FaultCode.Garbled, "it keeps sending unasked", "check baud rate and framing, and that nothing else talks on this line");
        }

        _identity = Text(Ask(Encoding.ASCII.GetBytes("*IDN?" + _format.Terminator), "*IDN?", out _, out _));
        if (_identity.Length == 0 || ScpiNumber.TryParse(Encoding.ASCII.GetBytes(_identity), out _))
        {
            // A late reply to somebody's earlier question, not an identity (IEEE 488.2, 10.14: maker, model, serial, level).
            throw new PollException(FaultCode.Garbled, $"'{_identity}' is no identity: replies do not follow their questions");
        }

        if (_format.IdentityContains is string wanted && !_identity.Contains(wanted, StringComparison.OrdinalIgnoreCase))
        {
            throw new PollException(
                FaultCode.InstrumentError,
                $"another instrument answers: '{_identity}' does not contain '{wanted}'",
                "check the port or address in the bench file, or the profile's identity");
        }

        string errors = _isFresh ? "" : DrainErrors();
        if (_isFresh)
        {
            foreach (string command in _format.Setup)
            {
                _link.Write(Encoding.ASCII.GetBytes(command + _format.Terminator));
            }

            // What setting up provoked is told now, or it would sit in the queue for ever.
            errors = DrainErrors();
            if (errors.Length > 0)
            {
                throw new PollException(FaultCode.InstrumentError, $"it refuses the setup: {errors}", "check the profile's setup commands against the instrument's manual");
            }

            _isFresh = false;
        }

        return errors.Length > 0 ? $"{_identity} (it reported {errors})" : _identity;
    }

    public void Scan(ReadOnlySpan<int> inputs, Span<PolledReading> results)
    {
        for (int i = 0; i < inputs.Length; i++)
        {
            byte[] query = _queries[inputs[i]];
            if (_restLength > 0 || _link.Read(_buffer, TimeSpan.Zero) > 0)
            {
                throw new PollException(FaultCode.Garbled, "it sent something unasked: the next reply could belong to another question");
            }

            string question = Text(query).TrimEnd();
            ReadOnlySpan<byte> reply = Ask(query, question, out long asked, out long answered);
            if (!ScpiNumber.TryParse(reply, out Reading reading))
            {
                throw new PollException(
                    FaultCode.Garbled,
                    $"'{Text(reply)}' is no number, in answer to {question}",
                    "check the query in the profile against the instrument's manual");
            }

            results[i] = new PolledReading(reading, asked, answered);
        }
    }

    private ReadOnlySpan<byte> Ask(byte[] query, string question, out long asked, out long answered)
    {
        asked = _time.GetTimestamp();
        _link.Write(query);
        _replyLength = 0;
        while (true)
        {
            TimeSpan left = _replyTimeout - _time.GetElapsedTime(asked);
            int count = left > TimeSpan.Zero ? _link.Read(_buffer, left) : 0;
            if (count == 0)
            {
                throw _replyLength == 0
                    ? new PollException(
                        FaultCode.NoAnswer,
                        $"no answer to {question} within {_replyTimeout.TotalMilliseconds:0} ms",
                        "check power, cable, baud rate and that the instrument is in remote mode")
                    : new PollException(FaultCode.Garbled, $"the answer to {question} broke off");
            }

            ReadOnlySpan<byte> bytes = _buffer.AsSpan(0, count);
            int end = bytes.IndexOf((byte)'\n');
            ReadOnlySpan<byte> piece = end < 0 ? bytes : bytes[..end];
            if (_replyLength + piece.Length > MaximumReply)
            {
                throw new PollException(FaultCode.Garbled, $"the answer to {question} does not end");
            }

            piece.CopyTo(_reply.AsSpan(_replyLength));
            _replyLength += piece.Length;
            if (end < 0)
            {
                continue;
            }

            answered = _link.LastArrival;

            // Anything after the end of the reply belongs to no question: the next scan refuses to go on.
            ReadOnlySpan<byte> rest = bytes[(end + 1)..];
            rest.CopyTo(_rest);
            _restLength = rest.Length;
            ReadOnlySpan<byte> reply = _reply.AsSpan(0, _replyLength).TrimEnd((byte)'\r');
            if (reply.ContainsAnyExceptInRange((byte)0x20, (byte)0x7E))
            {
                throw new PollException(FaultCode.Garbled, $"the answer to {question} holds bytes that are no text");
            }

            return reply;
        }
    }

    /// <summary>Empties the error queue (SCPI-99 volume 2, SYSTem:ERRor?); "" when it was empty or there is none.</summary>
    private string DrainErrors()
    {
        var errors = new List<string>();
        for (int i = 0; _hasErrorQueue && i < MaximumErrors; i++)
        {
            string reply;
            try
            {
                reply = Text(Ask(Encoding.ASCII.GetBytes("SYST:ERR?" + _format.Terminator), "SYST:ERR?", out _, out _)).Trim();
            }
            catch (PollException error) when (error.Fault == FaultCode.NoAnswer)
            {
                // Not every instrument has the queue. What it might still send must not meet the next question.
                _hasErrorQueue = false;
                if (!_link.Drain(_replyTimeout * 1.1, _replyTimeout * 4))
                {
                    throw;
                }

                break;
            }

            string number = reply.Split(',')[0];
            if (number is "0" or "+0")
            {
                break;
            }

            if (!errors.Contains(reply))
            {
                errors.Add(reply); // one that stays in the queue is told once
            }
        }

        return string.Join("; ", errors);
    }

    private static string Text(ReadOnlySpan<byte> bytes) => Encoding.ASCII.GetString(bytes);
}
