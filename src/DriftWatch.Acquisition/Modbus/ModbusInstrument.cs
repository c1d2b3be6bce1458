using DriftWatch.Acquisition.Sampling;
using DriftWatch.Measurement.Profiles;
using DriftWatch.Measurement.Samples;

namespace DriftWatch.Acquisition.Modbus;

/// <summary>One unit on an RTU line. Neighbouring registers that are due together are read in one request.</summary>
internal sealed class ModbusInstrument : IPolledInstrument
{
    private readonly ModbusMaster _master;
    private readonly int _unit;
    private readonly int _maximumRegisters;
    private readonly Target[] _targets;
    private readonly ushort[] _registers = new ushort[ModbusFrame.MaximumRegisters];

    public ModbusInstrument(ModbusMaster master, int unit, ModbusFormat format, IReadOnlyList<ProfileInput> inputs)
    {
        _master = master;
        _unit = unit;
        _maximumRegisters = Math.Clamp(format.MaximumRegisters, 2, ModbusFrame.MaximumRegisters);
        _targets = [.. inputs.Select(i => new Target(
            i.Function,
            i.Register ?? throw new ArgumentException($"Input '{i.Name}' names no register.", nameof(inputs)),
            i.Type ?? "uint16",
            i.WordOrder))];
    }

    /// <summary>
    /// RTU has no question that every instrument answers: its address and the CRC of the next reply stand for its
    /// identity, and the master waits out late replies by itself.
    /// </summary>
    public string Greet() => $"Modbus unit {_unit}";

    public void Scan(ReadOnlySpan<int> inputs, Span<PolledReading> results)
    {
        Span<int> order = stackalloc int[inputs.Length];
        for (int i = 0; i < order.Length; i++)
        {
            order[i] = i;
        }

        int[] wanted = inputs.ToArray();
        order.Sort((a, b) => _targets[wanted[a]].Place.CompareTo(_targets[wanted[b]].Place));
        int first = 0;
        while (first < order.Length)
        {
            Target start = _targets[wanted[order[first]]];
            int end = start.Address + start.Registers;
            int next = first + 1;
            while (next < order.Length && Joins(_targets[wanted[order[next]]], start, end))
            {
                Target joined = _targets[wanted[order[next]]];
                end = Math.Max(end, joined.Address + joined.Registers);
                next++;
            }

            ReadBlock(start, end, order[first..next], wanted, results);
            first = next;
        }
    }

    /// <summary>Only registers that touch: what lies in a gap may not exist, and asking for it fails the whole request.</summary>
    private bool Joins(Target next, Target start, int end) =>
        next.Function == start.Function && next.Address <= end
        && next.Address + next.Registers - start.Address <= _maximumRegisters;

    private void ReadBlock(Target start, int end, ReadOnlySpan<int> members, int[] wanted, Span<PolledReading> results)
    {
        Span<ushort> registers = _registers.AsSpan(0, end - start.Address);
        long asked;
        long answered;
        try
        {
            _master.Read(_unit, start.Function, start.Address, registers, out asked, out answered);
        }
        catch (PollException error) when (error.Fault == FaultCode.InstrumentError && _targets.Length > members.Length)
        {
            // An exception is an answer: the other blocks may stand. Its words come out by probing.
            foreach (int member in members)
            {
                results[member] = new PolledReading(Reading.Failed(FaultCode.InstrumentError), _master.LastAsked, _master.LastAnswered);
            }

            return;
        }

        foreach (int member in members)
        {
            Target target = _targets[wanted[member]];
            Reading reading = RegisterValue.Decode(registers[(target.Address - start.Address)..], target.Type, target.WordOrder);
            results[member] = new PolledReading(reading, asked, answered);
        }
    }

    private readonly record struct Target(int Function, int Address, string Type, string WordOrder)
    {
        public int Registers => RegisterValue.RegistersOf(Type);

        /// <summary>By function, then address.</summary>
        public int Place => (Function << 16) | Address;
    }
}
