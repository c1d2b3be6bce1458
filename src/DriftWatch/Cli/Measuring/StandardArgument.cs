using System.CommandLine;
using DriftWatch.Analysis.TimingGeometry;

namespace DriftWatch.Cli.Measuring;

/// <summary>The machine's standard on the command line.</summary>
internal static class StandardArgument
{
    private static readonly (string Name, TimingStandard Standard)[] Names =
    [
        ("525", TimingStandard.Mono525), ("525-colour", TimingStandard.Colour525), ("625", TimingStandard.Line625),
    ];

    public static Option<string> Create()
    {
        var option = new Option<string>("--standard") { Description = "The machine's standard: 525 turns 240 times a second, 525-colour 239.76, 625 250.", Required = true };
        option.AcceptOnlyFromAmong([.. Names.Select(n => n.Name)]);
        return option;
    }

    public static TimingStandard Of(string name) => Array.Find(Names, n => n.Name == name).Standard;

    public static string NameOf(TimingStandard standard) => Array.Find(Names, n => n.Standard == standard).Name;
}
