using DriftWatch.Analysis.TimingGeometry;
using DriftWatch.Measurement.Baselines;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// What a revolution's timing errors are made of: skew from end to end, sagitta of the scallop, a step of each head, all signed; and
/// the part that differs from frame to frame, which guide and heads can't make and a gas bearing does. Told only where
/// the servos hold the wheel: while locked, or while tape runs on a bench that can't tell; a frame at the converter's end tells nothing,
/// nor does one whose head-switch mark has slipped (<see cref="MarkSlip"/>).
/// </summary>
/// <remarks>
/// Frames are revolutions some way apart, so what does not repeat shows in the difference of two: half of its mean square. Its mean
/// is taken out, because the wheel servo wanders, and with it goes part of a whirl of some half cycle a revolution: what is
/// smooth along the revolution, told from noise by the differences of neighbours, is made up for. One knob turned makes one large difference,
/// so squares fade over eight.
/// </remarks>
internal sealed class TimingQuantities : Derivation
{
    /// <summary>Share of a new difference. Chosen: eight differences of 64 points know their mean square to 6 %.</summary>
    private const double NewShare = 1.0 / 8;

    /// <summary>What 0.48 cycles keep of their mean square about a revolution's mean: 1 − (sin 0.48π/0.48π)². Derived.</summary>
    private const double KeptOfWhirl = 0.562;

    /// <summary>Before that many differences there is no telling.</summary>
    private const int LeastDifferences = 4;

    private FrameAxis? _axis;
    private TimingDecomposer? _decomposer;
    private double[] _errorsNs = [];
    private double[] _formerNs = [];
    private bool _hasFormer;
    private int _differences;
    private double _meanSquare;
    private double _noiseSquare;
    private readonly MarkSlip _mark = new();

    public override void OnTick(WatchContext context, QuantityBoard board)
    {
        if (!Any(board) || context.Roles.Fresh(ChannelRole.TimingError, context.Now) is not null)
        {
            return;
        }

        Forget();
        _mark.Forget(context);
        Untold(context, board);
    }

    public override void OnFrame(WatchContext context, QuantityBoard board, ChannelWatch channel, Frame frame)
    {
        if (channel.Definition is not { Role: ChannelRole.TimingError, Axis: { } axis } || !Any(board))
        {
            return;
        }

        Prepare(context, axis);
        bool isHeld = IsHeld(context);
        if (!isHeld)
        {
            _mark.Forget(context);
        }

        if (_decomposer is null || !isHeld || !Read(channel, frame))
        {
            Forget();
            Untold(context, board);
            return;
        }

        if (!_mark.IsInStep(context, channel, _errorsNs))
        {
            Untold(context, board); // the frames before stay those to compare with
            return;
        }

        TimingTerms terms = _decomposer.Decompose(_errorsNs);
        board.Of(QuantityKind.Skew)?.OnDerived(context, terms.SkewPeakToPeakNs.Value);
        board.Of(QuantityKind.Scallop)?.OnDerived(context, terms.SagittaNs.Value);
        for (int head = 1; head <= 4; head++)
        {
            if (terms.Step(head) is { IsKnown: true } step)
            {
                board.Of(QuantityKind.HeadStep, head)?.OnDerived(context, step.Value.Value);
            }
        }

        Compare();
        if (_differences >= LeastDifferences)
        {
            board.Of(QuantityKind.AsyncResidual)?.OnDerived(context, Math.Sqrt(_meanSquare + (Math.Max(0, _meanSquare - _noiseSquare) * ((1 / KeptOfWhirl) - 1))));
        }
    }

    public override void OnBaseline(BaselineStanding standing)
    {
        if (standing == BaselineStanding.Confirmed)
        {
            _mark.BeginAnew();
        }
    }

    public override void BeginWatching() => Forget();

    public override void OutOfService(WatchContext context)
    {
        Forget();
        _mark.OutOfService(context);
    }

    public override void Sync(StateArchive archive, FindingDesk desk)
    {
        archive.Sync(ref _hasFormer);
        archive.Sync(ref _differences);
        archive.Sync(ref _meanSquare);
        archive.Sync(ref _noiseSquare);
        int count = archive.SyncCount(_hasFormer ? _formerNs.Length : 0);
        if (!archive.IsWriting)
        {
            _formerNs = new double[count];
        }

        for (int i = 0; i < count; i++)
        {
            archive.Sync(ref _formerNs[i]);
        }

        _mark.Sync(archive, desk);
    }

    private static bool Any(QuantityBoard board) => board.Of(QuantityKind.Skew) is not null;

    private static bool IsHeld(WatchContext context) => context.Machine.State switch
    {
        MachineState.Locked or MachineState.Unknown => true,
        MachineState.Running => !context.Roles.Has(ChannelRole.ServoLock),
        _ => false,
    };

    private static void Untold(WatchContext context, QuantityBoard board)
    {
        board.Of(QuantityKind.Skew)?.Untold(context);
        board.Of(QuantityKind.Scallop)?.Untold(context);
        board.Of(QuantityKind.AsyncResidual)?.Untold(context);
        for (int head = 1; head <= 4; head++)
        {
            board.Of(QuantityKind.HeadStep, head)?.Untold(context);
        }
    }

    /// <summary>Once a bench: what an axis takes to make is a thousand times what a frame takes.</summary>
    private void Prepare(WatchContext context, FrameAxis axis)
    {
        if (ReferenceEquals(axis, _axis))
        {
            return;
        }

        _axis = axis;
        _decomposer = TimingDecomposer.ForAxis(axis) is { IsKnown: true } made ? made.Value : null;
        _errorsNs = new double[axis.Count];
        _mark.Seat(context, axis);
        if (_formerNs.Length != axis.Count)
        {
            _formerNs = new double[axis.Count];
            Forget();
        }
    }

    /// <summary>The frame in ns; false where a point is at the converter's end or no number.</summary>
    private bool Read(ChannelWatch channel, Frame frame)
    {
        FaultRules ends = channel.Definition.Faults;
        ReadOnlySpan<double> raw = frame.Values;
        for (int i = 0; i < raw.Length; i++)
        {
            double error = channel.InUnit(raw[i]) * channel.NanosecondsPerUnit;
            if (!double.IsFinite(error) || raw[i] <= ends.Low || raw[i] >= ends.High)
            {
                return false;
            }

            _errorsNs[i] = error;
        }

        return true;
    }

    private void Compare()
    {
        if (_hasFormer)
        {
            double mean = 0;
            for (int i = 0; i < _errorsNs.Length; i++)
            {
                mean += (_errorsNs[i] - _formerNs[i]) / _errorsNs.Length;
            }

            double squares = 0;
            double steps = 0;
            double before = 0;
            for (int i = 0; i < _errorsNs.Length; i++)
            {
                double rest = _errorsNs[i] - _formerNs[i] - mean;
                squares += rest * rest;
                steps += i > 0 ? (rest - before) * (rest - before) : 0;
                before = rest;
            }

            _differences = Math.Min(_differences + 1, (int)(1 / NewShare));
            double share = Math.Max(NewShare, 1.0 / _differences);
            _meanSquare += ((squares / (2 * (_errorsNs.Length - 1))) - _meanSquare) * share;
            _noiseSquare += ((steps / (4 * (_errorsNs.Length - 1))) - _noiseSquare) * share;
        }

        _errorsNs.CopyTo(_formerNs, 0);
        _hasFormer = true;
    }

    private void Forget()
    {
        _hasFormer = false;
        _differences = 0;
        _meanSquare = 0;
        _noiseSquare = 0;
    }
}
