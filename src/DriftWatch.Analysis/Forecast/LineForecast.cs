using DriftWatch.Analysis.Trend;

namespace DriftWatch.Analysis.Forecast;

/// <summary>What a line by least squares says of a time, with limits for the line itself and for one reading.</summary>
/// <param name="Value">The line's value.</param>
/// <param name="ConfidenceLower">Lower limit of the line's value.</param>
/// <param name="ConfidenceUpper">Upper limit of the line's value.</param>
/// <param name="PredictionLower">Lower limit of a reading.</param>
/// <param name="PredictionUpper">Upper limit of a reading.</param>
public readonly record struct LinePrediction(
    double Value, double ConfidenceLower, double ConfidenceUpper, double PredictionLower, double PredictionUpper);

/// <summary>
/// Textbook forecast from a line by least squares: value ± t·s·√(1/n + x²/Sxx) for the line, with 1 more under the root for a reading.
/// Holds for independent noise only; what the product says of a limit is <see cref="TimeToLimit"/>.
/// </summary>
public static class LineForecast
{
    /// <param name="line">By <see cref="LeastSquaresLine.Fit"/>.</param>
    /// <param name="time">In seconds, in the line's own time.</param>
    /// <param name="confidence">Of both intervals, two-sided.</param>
    /// <exception cref="ArgumentException">The time is not finite, or the confidence is not within 0 and 1.</exception>
    public static LinePrediction At(LineFit line, double time, double confidence = 0.95)
    {
        Statistics.Finite.Require(time);
        Points.CheckConfidence(confidence);
        double x = time - line.MeanTime;
        double variance = (line.LevelError * line.LevelError) + (x * x * line.SlopeError * line.SlopeError);
        double quantile = LeastSquaresLine.StudentQuantile(confidence, line.DegreesOfFreedom);
        double value = line.At(time);
        double inner = quantile * Math.Sqrt(variance);
        double outer = quantile * Math.Sqrt(variance + (line.ResidualDeviation * line.ResidualDeviation));
        return new LinePrediction(value, value - inner, value + inner, value - outer, value + outer);
    }
}
