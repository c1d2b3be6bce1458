namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>The scripts the rig knows by name, and the way to one's own.</summary>
public static class RigScripts
{
    /// <summary>What the practice bench plays when it names no script.</summary>
    public const string Default = "tour";

    private const string Play = """
        at 0:00:20 air on
        at 0:00:30 wheel on
        at 0:00:50 thread
        at 0:01:10 run
        at 0:02:10 programme

        """;

    private static readonly Dictionary<string, string> Texts = new(StringComparer.Ordinal)
    {
        ["tour"] = """
            title  A short tour: every state and several faults within ten minutes, again and again
            length 10:00
            loop
            at 0:03 air on
            at 0:10 wheel on
            at 0:18 thread
            at 0:26 run
            at 0:50 programme
            at 1:15 fault regulator-sag by 4.6 over 0.2 for 3 back 0.5
            at 1:50 splice by 5
            at 2:15 fault head-clog head 2 by 9 over 1.5 for 25 back 1
            at 3:15 fault tape-lift by 0.45 over 2 for 12 back 1
            at 4:15 fault sensor-open-loop input supply-air for 15
            at 5:00 fault compressor-failing by 0.95 for 1:15
            at 7:15 fault guide-height-shift by 0.4 over 2 for 25 back 2
            at 8:15 fault control-track-loss by 4.5 over 1 for 10 back 1
            at 8:45 bars
            at 9:00 stop
            at 9:08 unthread
            at 9:14 wheel off
            # The wheel runs down on its bearing before the air goes.
            at 9:45 air off
            """,
        ["sound-transfer"] = Play + """
            title  A sound transfer of ninety minutes
            length 1:30:00
            at 1:26:00 bars
            at 1:27:00 stop
            at 1:27:20 unthread
            at 1:27:40 wheel off
            at 1:28:30 air off
            """,
        ["failing-compressor"] = Play + """
            title  The compressor gives less and less until it can't hold the pressure
            length 0:50:00
            at 0:20:00 fault compressor-failing by 0.75 over 15:00
            at 0:42:00 stop
            at 0:42:20 unthread
            at 0:42:40 wheel off
            at 0:44:00 air off
            """,
        ["regulator-creep"] = Play + """
            title  The regulator's seat leaks: two hours of slow rise
            length 2:40:00
            at 0:20:00 fault regulator-creep by 7.5 over 2:00:00
            at 2:30:00 stop
            at 2:30:20 unthread
            at 2:30:40 wheel off
            at 2:31:30 air off
            """,
        ["tape-lift"] = Play + """
            title  Tape lifts off the guide, slowly, then at once, and at last runs out
            length 1:00:00
            at 0:20:00 fault tape-lift by 0.35 over 5:00 for 8:00 back 2
            at 0:38:00 fault tape-lift by 0.9 over 0.5 for 6 back 0.5
            at 0:50:00 fault tape-run-out
            at 0:50:40 stop
            at 0:51:00 unthread
            at 0:51:20 wheel off
            at 0:52:00 air off
            """,
        ["head-clog"] = Play + """
            title  Head 3 clogs and is cleaned, oxide sheds on all heads, head 1 clogs
            length 1:00:00
            at 0:15:00 fault head-clog head 3 by 10 over 2 for 4:00 back 1
            at 0:26:00 fault oxide-shed by 4 over 8:00 for 12:00 back 2
            at 0:48:00 fault head-clog head 1 by 7.5 over 1 for 3:00 back 1
            at 0:56:00 stop
            at 0:56:20 unthread
            at 0:56:40 wheel off
            at 0:57:20 air off
            """,
        ["sensor-and-clock"] = Play + """
            title  A night: one transfer, then idle on air, with sensors that fail and a clock that is set
            length 11:00:00
            at 1:10:00 bars
            at 1:12:00 stop
            at 1:12:20 unthread
            at 1:12:40 wheel off
            at 3:00:00 fault sensor-open-loop input supply-loop for 20:00
            at 4:30:00 fault sensor-stuck input regulated-air-volts for 30:00
            at 6:00:00 fault clock-step by -97
            at 7:30:00 fault sensor-over-range input guide-vacuum for 10:00
            at 8:30:00 fault instrument-silence for 2:00
            at 9:30:00 fault sensor-dead input ambient-temperature for 5:00
            """,
    };

    public static IReadOnlyCollection<string> Names => Texts.Keys;

    /// <summary>The built-in script's text, to start one's own from; null for an unknown name.</summary>
    public static string? TextOf(string name) => Texts.GetValueOrDefault(name);

    /// <summary>A built-in script by name, or a script file by its path.</summary>
    /// <exception cref="RigScriptException">There is neither, or the file can't be read.</exception>
    public static RigScript Load(string? nameOrPath)
    {
        string name = string.IsNullOrWhiteSpace(nameOrPath) ? Default : nameOrPath;
        if (Texts.TryGetValue(name, out string? text))
        {
            return RigScriptText.Parse(name, $"script '{name}'", text);
        }

        if (!File.Exists(name))
        {
            throw new RigScriptException(
                $"There is no practice script or script file '{name}'; write one of {string.Join(", ", Names)}, or the path of a script file");
        }

        try
        {
            return RigScriptText.Parse(Path.GetFileNameWithoutExtension(name), name, File.ReadAllText(name));
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            throw new RigScriptException($"{name}: the script can't be read: {exception.Message}");
        }
    }
}
