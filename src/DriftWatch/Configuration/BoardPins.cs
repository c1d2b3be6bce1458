namespace DriftWatch.Configuration;

/// <summary>What each board's binding can read, and the time one reading takes on its bus.</summary>
internal static class BoardPins
{
    private static readonly string[] Ads1115 = ["a0", "a1", "a2", "a3", "a0-a1", "a0-a3", "a1-a3", "a2-a3"];
    private static readonly string[] Mcp3208 = ["ch0", "ch1", "ch2", "ch3", "ch4", "ch5", "ch6", "ch7"];
    private static readonly string[] Bme280 = ["temperature", "humidity", "pressure"];

    public static IReadOnlyList<string> Of(string binding) => binding switch
    {
        "ads1115" => Ads1115,
        "mcp3208" => Mcp3208,
        "bme280" => Bme280,
        _ => [],
    };

    /// <summary>
    /// Seconds that one input takes. Source: ads1115: one conversion at 860 a second by its data sheet, and four
    /// transfers at 100 kHz; mcp3208: 24 clocks at 1 MHz, rounded up to what a call costs; bme280: one forced
    /// measurement of all three, 21 ms in its binding, and the transfers.
    /// </summary>
    public static double SecondsPerInput(string binding) => binding switch
    {
        "ads1115" => 0.003,
        "mcp3208" => 0.0005,
        "bme280" => 0.025,
        _ => 0,
    };
}
