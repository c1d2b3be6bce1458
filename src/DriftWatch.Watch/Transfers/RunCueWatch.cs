using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Watch.Transfers;

/// <summary>What the machine's state says of the run.</summary>
/// <param name="Begins">True where a run begins, false where it ends.</param>
/// <param name="AtUtc">Since when, nanoseconds since 1970: where tape began to run, or stopped.</param>
public readonly record struct RunCueSeen(bool Begins, long AtUtc);

/// <summary>
/// Tells by the machine's state when the run of a pass that is lined up begins and ends, so that a long transfer can be
/// left alone. Tape that still runs from the line-up begins nothing: it has to have stood first. A state that is not
/// known neither begins nor ends a run.
/// </summary>
/// <param name="rule">Of the bench.</param>
/// <param name="runs">The lowest state that counts as running: locked, or running on a bench that can't tell lock.</param>
public sealed class RunCueWatch(RunRule rule, MachineState runs)
{
    /// <summary>What could not be entered is said again after so long. Source: our own choice; the store's own trouble is told after five seconds.</summary>
    private const long AgainNanoseconds = 10_000_000_000;

    private Guid? _pass;
    private PassStage? _stage;
    private bool _stood;
    private long? _since;
    private bool _sinceRunning;
    private bool _recalls;
    private long _sayFrom = long.MinValue;

    /// <summary>
    /// Takes up what the states were since the stage of the pass began, for a process that begins in the middle of it: nothing begins or ends by
    /// them, but tape that has stood has stood, and what ran before nobody watched and runs after it has run since then.
    /// </summary>
    /// <param name="states">When each began, nanoseconds since 1970, oldest first.</param>
    /// <param name="pass">The pass that is open; null for none.</param>
    public void Recall(IEnumerable<(long Utc, MachineState State)> states, BookPass? pass)
    {
        ArgumentNullException.ThrowIfNull(states);
        foreach ((long utc, MachineState state) in states)
        {
            _recalls = true;
            Look(utc, state, pass);
        }

        _recalls = true;
        _sayFrom = long.MinValue;
    }

    /// <summary>Looks at one instant; ask a few times a second, or at each change of state.</summary>
    /// <param name="utc">Nanoseconds since 1970, never running back within one stage.</param>
    /// <param name="state">Of the machine then.</param>
    /// <param name="pass">The pass that is open; null for none.</param>
    /// <returns>Null where nothing begins or ends now; the same again after ten seconds while the stage stays what it was.</returns>
    public RunCueSeen? Look(long utc, MachineState state, BookPass? pass)
    {
        if (Seen(utc, state, pass) is not { } cue || utc < _sayFrom)
        {
            return null;
        }

        _sayFrom = utc + AgainNanoseconds;
        return cue;
    }

    private RunCueSeen? Seen(long utc, MachineState state, BookPass? pass)
    {
        if (pass?.Id != _pass || pass?.Stage != _stage)
        {
            (_pass, _stage, _since, _stood, _sayFrom) = (pass?.Id, pass?.Stage, null, false, long.MinValue);
        }

        if (_stage is not (PassStage.Ready or PassStage.Running) || state == MachineState.Unknown)
        {
            _since = _recalls ? _since : null; // whoever begins to look does not know at first
            return null;
        }

        _recalls = false;

        // Between running and locked the servos are pulling in: tape moves, but that is no run yet and no end of one.
        bool running = state >= runs;
        bool standing = state < MachineState.Running;
        if (!running && !standing)
        {
            _since = null;
            return null;
        }

        if (_since is null || _sinceRunning != running)
        {
            (_since, _sinceRunning) = (utc, running);
        }

        _stood |= standing;
        double seconds = (utc - _since.Value) / 1e9;
        if (_stage == PassStage.Ready && running && _stood && seconds >= rule.BeginsAfterSeconds)
        {
            return new RunCueSeen(true, _since.Value);
        }

        return _stage == PassStage.Running && standing && seconds >= rule.EndsAfterSeconds
            ? new RunCueSeen(false, Math.Max(_since.Value, pass!.RunBegan!.Entry.AboutUtc + 1))
            : null;
    }
}
