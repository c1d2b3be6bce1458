using System.Text.RegularExpressions;
using System.Xml.Linq;

namespace DriftWatch.Tests.House;

/// <summary>The rules of the house in words, so that breaking one is a failing test and not a matter of taste.</summary>
public partial class HouseRulesTests
{
    private const int LongestFile = 450;

    private static readonly string Root = FindRoot();

    private static readonly Dictionary<string, string[]> AllowedReferences = new(StringComparer.Ordinal)
    {
        ["DriftWatch.Measurement"] = [],
        ["DriftWatch.Analysis"] = ["DriftWatch.Measurement"],
        ["DriftWatch.Watch"] = ["DriftWatch.Analysis"],
        ["DriftWatch.Acquisition"] = ["DriftWatch.Measurement"],
        ["DriftWatch.Storage"] = ["DriftWatch.Measurement"],
        ["DriftWatch"] = ["DriftWatch.Acquisition", "DriftWatch.Storage", "DriftWatch.Watch"],
    };

    [Fact]
    public void Data_goes_one_way_so_projects_refer_only_to_those_before_them()
    {
        foreach ((string project, string[] allowed) in AllowedReferences)
        {
            IEnumerable<string> references = Project(project).Descendants("ProjectReference")
                .Select(r => Path.GetFileNameWithoutExtension(((string)r.Attribute("Include")!).Replace('\\', '/')));
            Assert.Equal(allowed, references.Order(StringComparer.Ordinal));
        }
    }

    [Fact]
    public void The_vocabulary_knows_no_package_but_the_units() =>
        Assert.Equal(["UnitsNet"], Packages(Project("DriftWatch.Measurement")));

    [Fact]
    public void Judgement_and_analysis_are_pure_so_they_touch_no_file_clock_task_or_log()
    {
        string[] banned = ["System.IO", "File.", "TimeProvider", "async ", "await ", "ILogger", "Stopwatch", "Environment.", "Random.Shared", "Guid.New", "Parallel.", "Thread"];
        IEnumerable<string> offences =
            from file in Sources("src/DriftWatch.Watch").Concat(Sources("src/DriftWatch.Analysis"))
            from line in File.ReadLines(file)
            where !line.TrimStart().StartsWith('/')
            from word in banned
            where line.Contains(word, StringComparison.Ordinal)
            select $"{Relative(file)}: {line.Trim()}";
        Assert.Empty(offences);
    }

    [Fact]
    public void No_file_is_longer_than_a_person_reads_in_one_go()
    {
        IEnumerable<string> longOnes =
            from file in Sources("src").Concat(Sources("tests"))
            let lines = File.ReadLines(file).Count()
            where lines > LongestFile
            select $"{Relative(file)}: {lines} lines";
        Assert.Empty(longOnes);
    }

    [Fact]
    public void Every_package_is_listed_in_the_contributors_guide_with_its_licence()
    {
        string guide = File.ReadAllText(Path.Combine(Root, "DEVELOPERS.md"));
        Dictionary<string, string> listed = PackageRow().Matches(guide)
            .ToDictionary(m => m.Groups["name"].Value, m => m.Groups["licence"].Value.Trim(), StringComparer.Ordinal);
        string[] approvedByOsi = ["MIT", "MIT-0", "Apache-2.0", "BSD-2-Clause", "ISC", "BSD-3-Clause", "MPL-2.0"];
        IEnumerable<string> used = Directory.EnumerateFiles(Root, "*.csproj", SearchOption.AllDirectories)
            .Append(Path.Combine(Root, "Directory.Build.props"))
            .SelectMany(p => Packages(XDocument.Load(p)))
            .Concat(XDocument.Load(Path.Combine(Root, "Directory.Packages.props")).Descendants("PackageVersion").Select(v => (string)v.Attribute("Include")!))
            .Distinct(StringComparer.Ordinal);
        foreach (string package in used)
        {
            Assert.True(listed.TryGetValue(package, out string? licence), $"{package} is not in the package table of DEVELOPERS.md.");
            Assert.Contains(licence, approvedByOsi);
        }
    }

    [Fact]
    public void The_top_of_the_tree_holds_what_it_is_agreed_to_hold()
    {
        string[] agreed = ["README.md", "DEVELOPERS.md", "DriftWatch.sln", "src", "tests", "device-profiles", "replay-data",
            "global.json", "Directory.Build.props", "Directory.Packages.props", "BannedSymbols.txt", "driftwatch-data", "artifacts", "publish"];
        IEnumerable<string> strangers = Directory.EnumerateFileSystemEntries(Root)
            .Select(e => Path.GetFileName(e)!)
            .Where(n => !n.StartsWith('.') && !agreed.Contains(n, StringComparer.Ordinal));
        Assert.Empty(strangers);
    }

    [Fact]
    public void Every_device_profile_has_its_readme_and_the_transcript_of_its_wire()
    {
        foreach (string folder in Directory.EnumerateDirectories(Path.Combine(Root, "device-profiles")))
        {
            Assert.True(File.Exists(Path.Combine(folder, "README.md")), $"{Relative(folder)} has no README.md.");
            Assert.True(
                File.Exists(Path.Combine(folder, "profile.toml")) || File.Exists(Path.Combine(folder, "sensor.toml")),
                $"{Relative(folder)} has neither profile.toml nor sensor.toml.");
            bool hasWire = File.Exists(Path.Combine(folder, "profile.toml")) && Path.GetFileName(folder) != "practice-rig";
            Assert.True(!hasWire || File.Exists(Path.Combine(folder, "transcript.txt")), $"{Relative(folder)} has no transcript.txt.");
        }
    }

    private static IEnumerable<string> Sources(string under) =>
        Directory.EnumerateFiles(Path.Combine(Root, under), "*.cs", SearchOption.AllDirectories)
            .Where(f => !f.Contains("/obj/", StringComparison.Ordinal) && !f.Contains("/bin/", StringComparison.Ordinal));

    private static string Relative(string path) => Path.GetRelativePath(Root, path);

    private static XDocument Project(string name) => XDocument.Load(Path.Combine(Root, "src", name, name + ".csproj"));

    private static IEnumerable<string> Packages(XDocument project) =>
        project.Descendants("PackageReference").Select(r => (string)r.Attribute("Include")!);

    private static string FindRoot()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "DriftWatch.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        return folder ?? throw new InvalidOperationException("The tests run outside of the checkout.");
    }

    [GeneratedRegex(@"^\| `(?<name>[A-Za-z0-9.]+)` [^|]*\| (?<licence>[^|]+)\|", RegexOptions.Multiline | RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 5000)]
    private static partial Regex PackageRow();
}
