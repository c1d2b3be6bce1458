namespace DriftWatch.Analysis.TimingGeometry;

/// <summary>
/// Which column of the design is what, for the heads that are there. Steps and slopes are contrasts with the last of those heads,
/// whose own are minus the sum of the others'.
/// </summary>
internal sealed class TermLayout
{
    private readonly int[] _present;
    private readonly bool _slopes;
    private readonly bool _revolution;

    public TermLayout(TimingModel model, IReadOnlyList<int> presentHeads)
    {
        _present = [.. presentHeads];
        Model = model;
        _slopes = model != TimingModel.OncePerRevolution;
        _revolution = model != TimingModel.PerHeadSlopes;
        Contrasts = _present.Length - 1;
        Skew = 1 + Contrasts;
        FirstSlope = Skew + 1;
        Scallop = FirstSlope + (_slopes ? Contrasts : 0);
        Sine = _revolution ? Scallop + 1 : -1;
        Columns = Scallop + (_revolution ? 3 : 1);
    }

    public TimingModel Model { get; }

    /// <summary>1 to 4, rising.</summary>
    public IReadOnlyList<int> Present => _present;

    public int Contrasts { get; }

    public int Skew { get; }

    public int FirstSlope { get; }

    public int Scallop { get; }

    /// <summary>Column of sin ψ; the next is cos ψ; −1 where not fitted.</summary>
    public int Sine { get; }

    public int Columns { get; }

    /// <summary>Rows of what is reported: the columns, then the last head's step, then its slope.</summary>
    public int Reported => Columns + (Contrasts > 0 ? (_slopes ? 2 : 1) : 0);

    public bool HasSlopes => _slopes;

    /// <summary>Reported row of a head's step, by its index among those present; −1 where there is none.</summary>
    public int StepRow(int index) => Contrasts == 0 ? -1 : index < Contrasts ? 1 + index : Columns;

    /// <summary>Reported row of a head's slope.</summary>
    public int SlopeRow(int index) => Contrasts == 0 || !_slopes ? -1 : index < Contrasts ? FirstSlope + index : Columns + 1;

    /// <summary>One row of the design.</summary>
    public void Fill(Span<double> row, int head, double angleDegrees)
    {
        double angle = angleDegrees * Math.PI / 180;
        (double sine, double cosine) = Math.SinCos(angle);
        int index = Array.IndexOf(_present, head);
        row[0] = 1;
        row[Skew] = sine;
        for (int j = 0; j < Contrasts; j++)
        {
            double contrast = index == j ? 1 : index == Contrasts ? -1 : 0;
            row[1 + j] = contrast;
            if (_slopes)
            {
                row[FirstSlope + j] = contrast * sine;
            }
        }

        row[Scallop] = cosine - TimingStandard.MeanCosine;
        if (_revolution)
        {
            (row[Sine], row[Sine + 1]) = Math.SinCos(angle + ((head - 1) * Math.PI / 2));
        }
    }
}
