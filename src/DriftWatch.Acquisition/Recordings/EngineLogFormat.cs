using DriftWatch.Measurement.Inputs;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>
/// The exported log: the exact recording. UTF-8 text, usually gzipped, one input a line, in the order of judging:
/// <code>
/// log        = header *line end
/// header     = "driftwatch-log 1 first=" number LF        ; number of the first line; the rest count up
/// line       = kind SP delta [SP rest] LF                 ; delta: ns since the line before (the first: since zero)
/// kind       = "c" clock | "b" bench | "a" calibration | "m" command | "s" sample | "f" fault | "w" frame | "t" tick
///                                                         ; upper case S, F, W: late, not judged
/// rest (c,b,m) = json                                     ; rest (a) = channel SP json
/// rest (s)   = channel SP raw [SP minimum SP maximum]     ; shortest decimal that reads back to the same double
/// rest (f)   = channel SP slug
/// rest (w)   = channel SP sequence SP tach-degrees *(SP value)
/// end        = "end " count LF                            ; absent: the file is truncated
/// </code>
/// A late line's delta may be negative. Channel is the key that the bench line before it gives.
/// </summary>
public static class EngineLogFormat
{
    public const int Version = 1;

    internal const string HeaderStart = "driftwatch-log ";

    internal static char Letter(in EngineInput input)
    {
        char letter = input.Kind switch
        {
            InputKind.Clock => 'c',
            InputKind.Bench => 'b',
            InputKind.Calibration => 'a',
            InputKind.Command => 'm',
            InputKind.Sample => 's',
            InputKind.Fault => 'f',
            InputKind.Frame => 'w',
            InputKind.Tick => 't',
            _ => throw new ArgumentException($"Unknown kind {input.Kind}.", nameof(input)),
        };
        return input.IsLate ? char.ToUpperInvariant(letter) : letter;
    }
}
