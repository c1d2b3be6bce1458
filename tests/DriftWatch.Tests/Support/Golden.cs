using System.Text.Json;
using DriftWatch.Tests.PracticeRig;

namespace DriftWatch.Tests.Support;

/// <summary>Reference numbers and data sets from <c>Golden/</c>, as the scripts beside them printed them.</summary>
internal static class Golden
{
    private static readonly JsonElement Sets = Json("data/datasets");

    /// <summary>A file by its folder and name without extension: <c>trend/trend</c>.</summary>
    public static JsonElement Json(string name)
    {
        using JsonDocument document = JsonDocument.Parse(File.ReadAllText(
            GuideAndHeadTests.RepositoryFile($"tests/DriftWatch.Tests/Golden/{name}.json")));
        return document.RootElement.Clone();
    }

    /// <summary>A data set of R's by its name: <c>Nile</c>, <c>LakeHuron</c>, <c>nhtemp</c>, <c>airmiles</c>, <c>lh</c>, <c>morley</c>.</summary>
    public static double[] DataSet(string name) => Sets.GetProperty(name).Doubles();

    /// <summary>The numbers of an array; numbers that a source prints as words ('2.38E+02') are read too.</summary>
    public static double[] Doubles(this JsonElement array) => [.. array.EnumerateArray().Select(Number)];

    public static double Number(this JsonElement element) => element.ValueKind == JsonValueKind.String
        ? double.Parse(element.GetString()!, System.Globalization.CultureInfo.InvariantCulture)
        : element.GetDouble();

    public static double Number(this JsonElement element, string name) => element.GetProperty(name).Number();
}
