using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Acquisition.Sampling;

/// <summary>
/// Forms a ratio of two channels of one scan: a ratiometric sensor's output over the rail that feeds it. Both are
/// first converted by the bench file's calibration, so that a divider before the rail's input counts; both voltages
/// are kept as channels of their own. A rail that faults, or stands below a tenth of its nominal value, makes the ratio
/// <see cref="FaultCode.SupplyLost"/>: what the sensor says then means nothing.
/// </summary>
public sealed class RatioFeed
{
    /// <summary>A rail below this share of its nominal value is lost. Source: common practice, no source.</summary>
    public const double RailLostFraction = 0.1;

    /// <summary>Where the rail's channel names no setpoint: the usual supply of ratiometric sensors.</summary>
    private const double UsualRailVolts = 5.0;

    private readonly ChannelDefinition _of;
    private readonly ChannelDefinition _over;
    private readonly double _unitFactor;
    private readonly double _railLost;

    public RatioFeed(ChannelFeed feed, ChannelDefinition of, ChannelDefinition over)
    {
        Feed = feed;
        _of = of;
        _over = over;
        Unit ofUnit = Unit.Parse(of.Unit);
        Unit overUnit = Unit.Parse(over.Unit);
        _unitFactor = ofUnit.ConvertsTo(overUnit) ? ofUnit.Convert(1, overUnit) : 1;
        double usual = Unit.Parse("V").ConvertsTo(overUnit) ? Unit.Parse("V").Convert(UsualRailVolts, overUnit) : UsualRailVolts;
        _railLost = RailLostFraction * Math.Abs(over.Setpoint ?? usual);
    }

    public ChannelFeed Feed { get; }

    public string Of => _of.Id;

    public string Over => _over.Id;

    /// <summary>The ratio of two readings that have passed their own channels' rules.</summary>
    public Reading Form(in Reading of, in Reading over)
    {
        if (over.IsFault)
        {
            return Reading.Failed(FaultCode.SupplyLost);
        }

        double rail = _over.Calibration.Convert(over.Raw);
        if (!(rail >= _railLost) || rail == 0)
        {
            return Reading.Failed(FaultCode.SupplyLost);
        }

        if (of.IsFault)
        {
            return of;
        }

        double ratio = Ratio(of.Raw, rail);
        if (!of.HasExtremes)
        {
            return ReadingRules.FromNumber(ratio);
        }

        // The rail is taken as steady inside the period: it is filtered, the sensor's output is what moves.
        double one = Ratio(of.Minimum, rail);
        double other = Ratio(of.Maximum, rail);
        return ReadingRules.FromNumbers(ratio, Math.Min(one, other), Math.Max(one, other));
    }

    public void Post(EngineTime at, in Reading of, in Reading over) => Feed.Post(at, Form(of, over));

    /// <summary>
    /// Rounded to a millionth, fifteen times finer than the step of a 16-bit converter: the digits beyond are noise of
    /// the division, and cost the store five bytes a reading.
    /// </summary>
    private double Ratio(double raw, double rail) => Math.Round(_of.Calibration.Convert(raw) * _unitFactor / rail, 6);
}
