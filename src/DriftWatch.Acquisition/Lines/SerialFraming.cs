using System.IO.Ports;

namespace DriftWatch.Acquisition.Lines;

/// <summary>Serial framing as data sheets write it: data bits 5–8, parity N, E or O, stop bits 1 or 2; <c>8N1</c>.</summary>
public readonly record struct SerialFraming(int DataBits, char Parity, int StopBits)
{
    /// <summary>Bits on the wire for one character: start, data, parity if any, stop.</summary>
    public int BitsPerCharacter => 1 + DataBits + (Parity == 'N' ? 0 : 1) + StopBits;

    public static bool TryParse(string text, out SerialFraming framing)
    {
        framing = default;
        if (text is not [>= '5' and <= '8', 'N' or 'E' or 'O' or 'n' or 'e' or 'o', '1' or '2'])
        {
            return false;
        }

        framing = new SerialFraming(text[0] - '0', char.ToUpperInvariant(text[1]), text[2] - '0');
        return true;
    }

    public static SerialFraming Parse(string text) => TryParse(text, out SerialFraming framing)
        ? framing
        : throw new LinkException($"serial framing '{text}' is not known", "write it like 8N1, 8E1 or 7E1");

    internal Parity PortParity => Parity switch
    {
        'E' => System.IO.Ports.Parity.Even,
        'O' => System.IO.Ports.Parity.Odd,
        _ => System.IO.Ports.Parity.None,
    };

    public override string ToString() => $"{DataBits}{Parity}{StopBits}";
}
