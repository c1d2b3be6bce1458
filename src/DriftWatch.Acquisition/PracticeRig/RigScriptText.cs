using System.Globalization;

namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>A script that can't be read: file, line, what is wrong and what to write.</summary>
public sealed class RigScriptException(string message) : Exception(message);

/// <summary>
/// Reads a script's text. One statement a line, <c>#</c> begins a comment, words are parted by blanks; times are
/// <c>h:mm:ss</c>, <c>m:ss</c> or seconds.
/// <code>
/// title  Head two clogs
/// length 40:00
/// loop                      (optional: begin again after the length)
/// nuisances off             (optional: no splices, no touched knobs)
/// at 0:20  air on           (air|wheel|venturi on|off, thread, unthread, run, stop, programme, bars, next tape)
/// at 15:00 touch regulator by 0.4        (psi; touch tracking by … in mil; splice by … in dB)
/// at 20:00 fault head-clog head 2 by 9 over 2 for 40 back 1
/// at 30:00 fault sensor-dead input guide-vacuum for 1:00
/// </code>
/// A fault grows over <c>over</c> to the amount of <c>by</c>, is there until <c>for</c> after its start (without it:
/// to the end), and goes back in <c>back</c>. Units of <c>by</c>: see <see cref="RigFaultKind"/>.
/// </summary>
public static class RigScriptText
{
    private static readonly Dictionary<string, RigFaultKind> Kinds =
        Enum.GetValues<RigFaultKind>().ToDictionary(kind => Measurement.Channels.Slugs.Of(kind), StringComparer.Ordinal);

    private static readonly Dictionary<string, RigAct> Acts = new(StringComparer.Ordinal)
    {
        ["air on"] = RigAct.AirOn,
        ["air off"] = RigAct.AirOff,
        ["wheel on"] = RigAct.WheelOn,
        ["wheel off"] = RigAct.WheelOff,
        ["thread"] = RigAct.Thread,
        ["unthread"] = RigAct.Unthread,
        ["run"] = RigAct.Run,
        ["stop"] = RigAct.Stop,
        ["programme"] = RigAct.Programme,
        ["bars"] = RigAct.Bars,
        ["touch regulator"] = RigAct.TouchRegulator,
        ["touch tracking"] = RigAct.TouchTracking,
        ["splice"] = RigAct.Splice,
        ["venturi off"] = RigAct.VenturiOff,
        ["venturi on"] = RigAct.VenturiOn,
        ["next tape"] = RigAct.NextTape,
    };

    /// <param name="name">The script's name.</param>
    /// <param name="source">For messages: the file's path, or the name of a built-in script.</param>
    /// <param name="text">The text.</param>
    /// <exception cref="RigScriptException">A line can't be read.</exception>
    public static RigScript Parse(string name, string source, string text)
    {
        string title = name;
        double? length = null;
        bool loops = false;
        bool nuisances = true;
        var steps = new List<RigStep>();
        var faults = new List<RigFault>();
        int number = 0;
        foreach (string whole in text.Split('\n'))
        {
            number++;
            string[] words = whole.Split('#')[0].Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries);
            if (words.Length == 0)
            {
                continue;
            }

            var line = new Line(source, number, words);
            switch (words[0])
            {
                case "title":
                    title = string.Join(' ', words[1..]);
                    break;
                case "length" when words.Length == 2:
                    length = line.Time(words[1]);
                    break;
                case "loop" when words.Length == 1:
                    loops = true;
                    break;
                case "nuisances" when words is [_, "on" or "off"]:
                    nuisances = words[1] == "on";
                    break;
                case "at" when words.Length > 3 && words[2] == "fault":
                    faults.Add(ReadFault(line));
                    break;
                case "at" when words.Length > 2:
                    steps.Add(ReadStep(line));
                    break;
                default:
                    throw line.Wrong($"'{words[0]}' is no statement", "write title, length, loop, nuisances on|off, or at TIME …");
            }
        }

        double last = steps.Select(step => step.AtSeconds).Concat(faults.Select(fault => fault.StartSeconds)).DefaultIfEmpty(0).Max();
        if (length is null || !(length > last))
        {
            throw new RigScriptException($"{source}: the length is missing or not after the last statement; write 'length h:mm:ss' with more than {last} s");
        }

        return new RigScript
        {
            Name = name,
            Title = title,
            Steps = [.. steps.OrderBy(step => step.AtSeconds)],
            Faults = faults,
            LengthSeconds = length.Value,
            Loops = loops,
            HasNuisances = nuisances,
        };
    }

    private static RigStep ReadStep(Line line)
    {
        double at = line.Time(line.Words[1]);
        int by = Array.IndexOf(line.Words, "by");
        string verb = string.Join(' ', line.Words[2..(by < 0 ? line.Words.Length : by)]);
        if (!Acts.TryGetValue(verb, out RigAct act))
        {
            throw line.Wrong($"'{verb}' is nothing the operator can do", $"write one of: {string.Join(", ", Acts.Keys)}; or fault …");
        }

        bool takesAmount = act is RigAct.TouchRegulator or RigAct.TouchTracking or RigAct.Splice;
        if (takesAmount != (by >= 0) || (by >= 0 && by != line.Words.Length - 2))
        {
            throw line.Wrong(takesAmount ? $"'{verb}' needs an amount" : $"'{verb}' takes no amount", takesAmount ? $"write '{verb} by NUMBER'" : $"write '{verb}' alone");
        }

        return new RigStep(at, act, takesAmount ? line.Number(line.Words[by + 1]) : 0);
    }

    private static RigFault ReadFault(Line line)
    {
        if (!Kinds.TryGetValue(line.Words[3], out RigFaultKind kind))
        {
            throw line.Wrong($"'{line.Words[3]}' is no fault", $"write one of: {string.Join(", ", Kinds.Keys)}");
        }

        var fault = new RigFault { Kind = kind, StartSeconds = line.Time(line.Words[1]) };
        for (int i = 4; i < line.Words.Length; i += 2)
        {
            string value = i + 1 < line.Words.Length
                ? line.Words[i + 1]
                : throw line.Wrong($"'{line.Words[i]}' has no value", "write a value behind it");
            fault = line.Words[i] switch
            {
                "by" => fault with { Magnitude = line.Number(value) },
                "over" => fault with { RampSeconds = line.Time(value) },
                "for" => fault with { ForSeconds = line.Time(value) },
                "back" => fault with { RecoverySeconds = line.Time(value) },
                "head" when value is "1" or "2" or "3" or "4" => fault with { Head = value[0] - '0' },
                "head" => throw line.Wrong($"there is no head {value}", "write head 1, 2, 3 or 4"),
                "input" when RigInputs.TryParse(value, out RigInput input) => fault with { Input = input },
                "input" => throw line.Wrong($"the rig has no input '{value}'", $"write one of: {string.Join(", ", RigInputs.All)}"),
                _ => throw line.Wrong($"'{line.Words[i]}' says nothing about a fault", "write by, over, for, back, head or input"),
            };
        }

        if ((kind is RigFaultKind.HeadClog or RigFaultKind.HeadWear) != (fault.Head is not null))
        {
            throw line.Wrong("a head belongs to head-clog and head-wear, and to nothing else", "write 'fault head-clog head 1|2|3|4 …'");
        }

        bool ofSensor = kind is RigFaultKind.SensorDead or RigFaultKind.SensorNoisy or RigFaultKind.SensorOpenLoop
            or RigFaultKind.SensorOverRange or RigFaultKind.SensorStuck;
        return ofSensor == fault.Input is not null
            ? fault
            : throw line.Wrong("an input belongs to a sensor's fault and to nothing else", "write 'fault sensor-… input NAME …'");
    }

    private sealed record Line(string Source, int Number1, string[] Words)
    {
        public RigScriptException Wrong(string what, string remedy) => new($"{Source}({Number1}): {what}; {remedy}");

        public double Number(string word) =>
            double.TryParse(word, NumberStyles.Float, CultureInfo.InvariantCulture, out double value) && double.IsFinite(value)
                ? value
                : throw Wrong($"'{word}' is no number", "write it like 0.4");

        public double Time(string word)
        {
            double seconds = 0;
            foreach (string part in word.Split(':'))
            {
                seconds = (seconds * 60) + Number(part);
            }

            return seconds >= 0 ? seconds : throw Wrong($"'{word}' lies before the beginning", "write h:mm:ss, m:ss or seconds");
        }
    }
}
