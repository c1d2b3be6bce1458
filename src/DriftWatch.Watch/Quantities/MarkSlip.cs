using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Quantities;

/// <summary>
/// Tells that the head-switch mark of the timing frames has slipped by a line, as a pulse lost or counted twice leaves it: a frame
/// is then the mean of those before it, a slot on. Skew and scallop of such a frame mean nothing, and what seems to have moved is the mark. A frame
/// that suits the mean far better a line on or back is held back at once; three in a row are said. A shape without a jump at the
/// head switch (no skew, no steps) looks the same a slot on: there a slip is not seen, and does little.
/// </summary>
/// <remarks>Turned guides and heads change the shape in place and suit no slot; the servo's wander is taken out with the means.</remarks>
internal sealed class MarkSlip
{
    /// <summary>An axis this fine has slots to turn by. Lines are 5.49° apart in 525/60 and 5.76° in 625/50 (derived from 65.625 and 62.5 a revolution).</summary>
    private const double LineDegrees = 5.6;

    // A slot may be off a line by as much. Source: derived, half a point a head of sixteen.
    private const double LineToleranceDegrees = 0.3;

    /// <summary>Share of a new frame in the mean shape. Chosen: noise of the mean is then a quarter of a frame's.</summary>
    private const double NewShare = 1.0 / 8;

    /// <summary>Frames before there is a shape to hold one against.</summary>
    private const int LeastFrames = 8;

    /// <summary>
    /// Twice the logarithm of the likelihood ratio beyond which a frame has slipped. Source: derived, noise alone makes it once in a hundred thousand
    /// frames of the least favourable shape; three in a row never.
    /// </summary>
    private const double Beyond = 20;

    private const int InARow = 3;

    // Below this a residual is rounding, ns.
    private const double FloorNs = 0.01;

    private double[] _shape = [];
    private double[] _level = [];
    private int _slots;
    private int _frames;
    private int _run;
    private int _sign;
    private OpenFinding? _finding;

    /// <summary>The frames stand a line beside those of before.</summary>
    public bool IsSlipped => _finding is not null;

    /// <summary>For another axis; one without slots of a line tells no slip.</summary>
    public void Seat(WatchContext context, FrameAxis axis)
    {
        _level = new double[axis.Count];
        _slots = SlotsOfALine(axis);
        if (_shape.Length != axis.Count)
        {
            _shape = new double[axis.Count];
            Forget(context);
        }
    }

    /// <summary>Whether this frame may be judged.</summary>
    /// <param name="context">Of the instant.</param>
    /// <param name="channel">The frames' channel, for the finding.</param>
    /// <param name="errorsNs">One a point of the axis.</param>
    public bool IsInStep(WatchContext context, ChannelWatch channel, ReadOnlySpan<double> errorsNs)
    {
        if (_slots == 0)
        {
            return true;
        }

        double mean = TimingMean(errorsNs);
        for (int i = 0; i < _level.Length; i++)
        {
            _level[i] = errorsNs[i] - mean;
        }

        int sign = _frames < LeastFrames ? 0 : Slip();
        bool same = IsSlipped ? sign == 0 : sign != 0 && (_run == 0 || sign == _sign);
        _run = same ? _run + 1 : IsSlipped || sign == 0 ? 0 : 1;
        _sign = IsSlipped || sign == 0 ? _sign : sign;
        if (_run >= InARow)
        {
            _run = 0;
            if (IsSlipped)
            {
                context.Desk.End(_finding!, context.Now, "recovered", "The head-switch mark of the timing record is in step again.");
                _finding = null;
            }
            else
            {
                Say(context, channel);
            }
        }

        if (IsSlipped || sign != 0)
        {
            return false;
        }

        Learn();
        return true;
    }

    /// <summary>The wheel is no longer held, or another tape comes: shapes of before say nothing.</summary>
    public void Forget(WatchContext context)
    {
        _frames = 0;
        _run = 0;
        if (_finding is { } finding)
        {
            context.Desk.End(finding, context.Now, "state-left", finding.Line.Text);
            _finding = null;
        }
    }

    /// <summary>A person took a baseline: what is now is how it shall be.</summary>
    public void BeginAnew() => (_frames, _run) = (0, 0);

    public void OutOfService(WatchContext context)
    {
        BeginAnew();
        context.Desk.TakeOutOfService(ref _finding, context.Now);
    }

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        archive.Sync(ref _frames);
        archive.Sync(ref _run);
        archive.Sync(ref _sign);
        desk.Sync(archive, ref _finding);
        int count = archive.SyncCount(_shape.Length);
        if (!archive.IsWriting)
        {
            _shape = new double[count];
        }

        for (int i = 0; i < count; i++)
        {
            archive.Sync(ref _shape[i]);
        }
    }

    /// <summary>How many slots a line is; 0 where slots are no whole part of one, or don't go all the way round.</summary>
    private static int SlotsOfALine(FrameAxis axis)
    {
        double spacing = 360.0 / axis.Count;
        int slots = (int)Math.Round(LineDegrees / spacing);
        if (slots == 0 || Math.Abs((slots * spacing) - LineDegrees) > LineToleranceDegrees)
        {
            return 0;
        }

        for (int i = 1; i < axis.Count; i++)
        {
            double step = Wheel(axis, i) - Wheel(axis, i - 1);
            if (Math.Abs(step - spacing) > 0.25 * spacing)
            {
                return 0;
            }
        }

        return slots;

        static double Wheel(FrameAxis axis, int i) => (90 * (axis.Heads[i] - 1)) + axis.AnglesDegrees[i];
    }

    private static double TimingMean(ReadOnlySpan<double> errorsNs)
    {
        double sum = 0;
        foreach (double error in errorsNs)
        {
            sum += error;
        }

        return sum / errorsNs.Length;
    }

    /// <summary>+1 where the frame is the shape a line on, −1 a line back, 0 where it is in place or nothing of that.</summary>
    private int Slip()
    {
        (double here, _) = Squares(0);
        (double on, double onRho) = Squares(_slots);
        (double back, double backRho) = Squares(-_slots);
        double least = Math.Min(on, back);
        double rho = on < back ? onRho : backRho;
        double effective = _level.Length * (1 - rho) / (1 + rho);
        return effective * Math.Log(here / least) > Beyond ? (on < back ? 1 : -1) : 0;
    }

    /// <summary>Squares about the shape turned by so many slots, and how much neighbours hang together.</summary>
    private (double Squares, double Correlation) Squares(int turned)
    {
        int n = _level.Length;
        double squares = n * FloorNs * FloorNs;
        double nexts = 0;
        double before = 0;
        for (int i = 0; i < n; i++)
        {
            double rest = _level[i] - _shape[(i + turned + n) % n];
            squares += rest * rest;
            nexts += i > 0 ? rest * before : 0;
            before = rest;
        }

        return (squares, Math.Clamp(nexts / squares, 0, 0.95));
    }

    private void Learn()
    {
        _frames = Math.Min(_frames + 1, LeastFrames);
        double share = Math.Max(NewShare, 1.0 / _frames);
        for (int i = 0; i < _shape.Length; i++)
        {
            _shape[i] = _frames == 1 ? _level[i] : _shape[i] + (share * (_level[i] - _shape[i]));
        }
    }

    private void Say(WatchContext context, ChannelWatch channel) => _finding = context.Desk.Raise(new FindingFacts
    {
        Kind = FindingKinds.MarkSlipped,
        Channel = channel.Definition.Id,
        Severity = Severity.Advisory,
        Start = context.Now,
        Value = _sign,
        Unit = "1",
        Cause = _sign > 0 ? "a-line-on" : "a-line-back",
        Text = $"The timing record stands a line {(_sign > 0 ? "on" : "back")} from where it stood: its head-switch mark has slipped by some {Say(LineDegrees)}°. Skew, scallop and steps are not judged until it is in step again. Look at the tach pick-up, its cable and the counter of lines; a pulse that is lost or counted twice does this.",
        Details = [new("lines", _sign)],
    });

    private static string Say(double number) => Speaking.Say.Number(number);
}
