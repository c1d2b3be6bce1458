using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.RfHeads;
using DriftWatch.Analysis.Trend;
using DriftWatch.Reports.Dossiers.Figures;

namespace DriftWatch.Reports.Maintaining;

/// <summary>Slopes and shortfalls in words: the same in the report and by the API.</summary>
internal static class MaintenanceWords
{
    public static string Trend(Answer<BaselineTrend> answer, string unit)
    {
        if (!answer.IsKnown)
        {
            return TooFew(answer.Missing!);
        }

        BaselineTrend trend = answer.Value;
        string chance = trend.Significance.IsKnown ? string.Create(CultureInfo.InvariantCulture, $", p = {trend.Significance.Value:0.0##}") : "";
        return string.Create(CultureInfo.InvariantCulture, $"{Slope(trend.PerWeek, trend.Low, trend.High)} {NumberText.Unit(unit)} a week, n = {trend.Count} in {trend.Days:0.#} days{chance}");
    }

    public static string PerHundredHours(Answer<TheilSenFit>? answer, string unit) => answer switch
    {
        null => "",
        { IsKnown: false } missing => TooFew(missing.Missing!),
        { } known => $"{Slope(known.Value.Slope, known.Value.Lower, known.Value.Upper)} {NumberText.Unit(unit)} in 100 h",
    };

    public static string Against(Answer<HeadWearTrend> answer)
    {
        if (!answer.IsKnown)
        {
            return TooFew(answer.Missing!);
        }

        (double perMonth, double low, double high) = answer.Value.DbPerMonth();
        string step = answer.Value.IsOneStep && !(low <= 0 && high >= 0) ? "; one step explains it better than wear does" : "";
        return string.Create(CultureInfo.InvariantCulture, $"{Slope(perMonth, low, high)} dB a month, n = {answer.Value.Baselines} in {7 * answer.Value.Weeks:0} days{step}");
    }

    /// <summary>Which recordings are not like the others by their head steps, one sentence for each tape.</summary>
    public static IReadOnlyList<string> StandingOut(MaintenanceRecord record)
    {
        if (!record.StandingOut.IsKnown)
        {
            return [$"Whether a recording's head steps stand out from the others': {TooFew(record.StandingOut.Missing!)}."];
        }

        return record.StandingOut.Value.Count == 0
            ? ["No recording's head steps stand out from the others': by these all could be of one machine, or of machines alike."]
            :
            [
                .. record.StandingOut.Value.GroupBy(o => o.Tape.Transfer, StringComparer.Ordinal).Select(own =>
                    $"{own.First().Tape.Tape} stands out: {string.Join("; ", own.Select(o => $"{o.Step.Label.ToLowerInvariant()} {Step(o)} {NumberText.Unit(o.Step.Unit)}, where the others' median is {NumberText.To(o.Usual, o.Step.StandardError ?? 1)}"))}. "
                    + "The heads that recorded it stood otherwise than those of the others: another machine, or another wheel."),
            ];

        static string Step(StandingOutTape its) => its.Step.StandardError is { } error ? WithError(its.Step.Value, error) : NumberText.Short(its.Step.Value);
    }

    public static string TooFew(Shortfall missing) => string.Create(CultureInfo.InvariantCulture, $"too few to say: {missing.Has:0.#} of {missing.Needs:0.#} {missing.What}");

    /// <summary>A value with its error behind it, both to two figures of the error.</summary>
    public static string WithError(double value, double error) => $"{NumberText.To(value, error)} ± {NumberText.To(error, error)}";

    private static string Slope(double value, double low, double high)
    {
        double unsure = (high - low) / 2;
        return $"{Signed(value, unsure)} ({Signed(low, unsure)} to {Signed(high, unsure)})";
    }

    private static string Signed(double value, double unsure) => value > 0 ? "+" + NumberText.To(value, unsure) : NumberText.To(value, unsure);
}
