namespace DriftWatch.Configuration;

/// <summary>Other spellings of units that people write, for the suggestion in a message; none of them is accepted.</summary>
internal static class UnitSpellings
{
    private static readonly Dictionary<string, string> Known = new(StringComparer.OrdinalIgnoreCase)
    {
        ["psig"] = "psi", ["lbf/in2"] = "psi", ["lb/in2"] = "psi",
        ["inwc"] = "inH2O", ["iwc"] = "inH2O", ["in.wc"] = "inH2O", ["inwg"] = "inH2O", ["\"wc"] = "inH2O", ["inaq"] = "inH2O",
        ["torr"] = "mmHg",
        ["°C"] = "degC", ["C"] = "degC", ["celsius"] = "degC",
        ["°F"] = "degF", ["F"] = "degF", ["fahrenheit"] = "degF",
        ["kelvin"] = "K",
        ["volt"] = "V", ["volts"] = "V", ["millivolt"] = "mV", ["µV"] = "uV", ["μV"] = "uV",
        ["µs"] = "us", ["μs"] = "us", ["sec"] = "s", ["seconds"] = "s", ["msec"] = "ms", ["nsec"] = "ns",
        ["thou"] = "mil", ["mils"] = "mil", ["µm"] = "um", ["μm"] = "um", ["micron"] = "um", ["inch"] = "in",
        ["°"] = "deg", ["degree"] = "deg", ["degrees"] = "deg", ["rpm"] = "rev/min", ["rps"] = "rev/s", ["lpm"] = "l/min", ["slpm"] = "l/min",
        ["percent"] = "%", ["%rh"] = "%RH", ["rh"] = "%RH", ["decibel"] = "dB", ["counts"] = "count", ["milliamp"] = "mA", ["amp"] = "A",
        ["none"] = "1", ["ratio"] = "1", [""] = "1",
    };

    public static string? Of(string text) => Known.GetValueOrDefault(text.Trim());
}
