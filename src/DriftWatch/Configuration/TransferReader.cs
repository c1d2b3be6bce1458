using System.Reflection;
using System.Security.Cryptography;
using System.Text;
using DriftWatch.Configuration.Keys;
using DriftWatch.Configuration.Toml;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Names;
using DriftWatch.Measurement.Transfers;

namespace DriftWatch.Configuration;

/// <summary>Reads how a site takes a tape through the bench: the files that the bench file names, or those that come with the program.</summary>
/// <param name="folder">The bench file's own folder.</param>
/// <param name="mistakes">Where mistakes of any of the files are said, under the file's own name.</param>
internal sealed class TransferReader(string folder, MistakeList mistakes)
{
    /// <summary>Default files by the key that would name another; they are embedded in the program.</summary>
    public static IReadOnlyList<string> Defaults { get; } = ["check-list.toml", "line-up.toml", "verdict.toml"];

    /// <summary>What holds where a site has none of its own, or a bench was recorded before there were any.</summary>
    public static TransferProcedures Default { get; } = new TransferReader("", new MistakeList()).Read(null)!;

    /// <summary>The text of a default file.</summary>
    public static string DefaultText(string name)
    {
        using Stream stream = Assembly.GetExecutingAssembly().GetManifestResourceStream("DriftWatch.procedures." + name)!;
        using var reader = new StreamReader(stream, Encoding.UTF8);
        return reader.ReadToEnd();
    }

    /// <summary>Null where one of the files has mistakes.</summary>
    public TransferProcedures? Read(SectionReader? section)
    {
        CheckList? checks = Read(section, "check-list", Defaults[0], TransferKeys.CheckListRoot, Checks);
        LineUpList? lineUp = Read(section, "line-up", Defaults[1], TransferKeys.LineUpRoot, LineUp);
        VerdictRules? rules = Read(section, "verdict-rules", Defaults[2], TransferKeys.VerdictRoot, Rules);
        return checks is null || lineUp is null || rules is null ? null : new TransferProcedures { Checks = checks, LineUp = lineUp, Rules = rules };
    }

    private T? Read<T>(SectionReader? section, string key, string standard, TableDefinition definition, Func<SectionReader, string, T> read)
        where T : class
    {
        string? named = section?.Text(key);
        if (named is not null && (named != Path.GetFileName(named) || !named.EndsWith(".toml", StringComparison.Ordinal)))
        {
            // Whoever tries a bench text from afar must not have other files read by it.
            section!.Say(key, $"\"{named}\" is no file beside the bench file", $"write the name of a .toml file that lies beside it, such as {section.Definition.Find(key)!.Write}");
            return null;
        }

        string file = named is null ? standard : Path.Combine(folder, named);
        string? text = named is null ? DefaultText(standard) : SourceText.Read(file, mistakes);
        return text is not null && TomlTreeReader.Read(file, text, mistakes) is { } root
            ? read(new SectionReader(file, root, definition, mistakes), Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text))))
            : null;
    }

    private static CheckList Checks(SectionReader top, string hash)
    {
        IReadOnlyList<SectionReader> sections = top.Tables("check");
        SayTwice(sections);
        return new CheckList(hash, [.. sections.Select(s => new CheckDefinition
        {
            Key = s.Slug("key") ?? "",
            Text = s.Text("text") ?? "",
            Caution = s.Text("caution"),
            Proof = Proof(s),
            Limit = s.Number("limit"),
            Unit = s.Text("unit"),
            AsksValue = s.Flag("asks-value") ?? false,
            Source = s.Text("source") ?? "",
        })]);
    }

    private static ProofKind Proof(SectionReader section)
    {
        ProofKind proof = section.Choice<ProofKind>("proof") ?? ProofKind.None;
        if (proof is ProofKind.Setpoint or ProofKind.DewPoint or ProofKind.LeakDown or ProofKind.HeadHours && !section.Has("limit"))
        {
            section.Say("proof", $"the proof {Slugs.Of(proof)} needs a number to hold against", $"write {section.Definition.Find("limit")!.Write}");
        }

        if (proof == ProofKind.HeadHours && section.Flag("asks-value") != true)
        {
            section.Say("proof", "the proof head-hours needs the hours that were read off", "write asks-value = true");
        }

        return proof;
    }

    private static LineUpList LineUp(SectionReader top, string hash)
    {
        IReadOnlyList<SectionReader> sections = top.Tables("step");
        SayTwice(sections);
        return new LineUpList(hash, [.. sections.Select(Step)]);
    }

    private static LineUpStepDefinition Step(SectionReader section)
    {
        double? least = section.Number("least");
        double? greatest = section.Number("greatest");
        if (least > greatest)
        {
            section.Say("least", $"nothing lies between {SectionReader.Plain(least.Value)} and {SectionReader.Plain(greatest.Value)}", "write least not above greatest");
        }

        if ((least ?? greatest) is not null && !section.Has("unit"))
        {
            section.Say(least is null ? "greatest" : "least", "the bound has no unit", $"write {section.Definition.Find("unit")!.Write}");
        }

        return new LineUpStepDefinition
        {
            Key = section.Slug("key") ?? "",
            Text = section.Text("text") ?? "",
            Caution = section.Text("caution"),
            Aid = section.Choice("aid"),
            Reads = section.Words("reads") ?? [],
            Least = least,
            Greatest = greatest,
            Unit = section.Text("unit"),
            Standard = section.Choice("standard"),
            Source = section.Text("source") ?? "",
        };
    }

    private static VerdictRules Rules(SectionReader top, string hash)
    {
        IReadOnlyList<SectionReader> sections = top.Tables("rule");
        SayTwice(sections);
        SectionReader? run = top.Table("run");
        SectionReader? review = top.Table("review");
        return new VerdictRules(
            hash,
            new RunRule(Seconds(run, "begins-after"), Seconds(run, "ends-after"), run?.Text("source") ?? ""),
            new ReviewRule(Seconds(review, "handle"), Seconds(review, "join"), review?.Text("source") ?? ""),
            [.. sections.Select(Rule)]);
    }

    private static VerdictRule Rule(SectionReader section)
    {
        VerdictCondition when = section.Choice<VerdictCondition>("when") ?? VerdictCondition.Findings;
        foreach (string key in when == VerdictCondition.Findings ? [] : (string[])["kinds", "severity", "longer-than"])
        {
            if (section.Has(key))
            {
                section.Say(key, $"'{key}' means nothing to when = \"{Slugs.Of(when)}\"", "leave it out");
            }
        }

        IReadOnlyList<string> kinds = section.Words("kinds") ?? [];
        foreach (string unknown in kinds.Where(k => FindingKinds.All.All(f => f.Kind != k)))
        {
            section.Say("kinds", $"there is no kind of finding '{unknown}'", NearestName.Of(unknown, FindingKinds.All.Select(f => f.Kind)) is { } meant ? $"write \"{meant}\"" : "take one that README.md lists");
        }

        return new VerdictRule
        {
            Key = section.Slug("key") ?? "",
            When = when,
            Kinds = kinds,
            Severity = section.Choice<Severity>("severity") ?? Severity.Advisory,
            LongerThanSeconds = Seconds(section, "longer-than"),
            MoreThan = section.Number("more-than") ?? 0,
            Verdict = section.Choice<Verdict>("verdict") ?? Verdict.SoundWithRemarks,
            Text = section.Text("text") ?? "",
            Source = section.Text("source") ?? "",
        };
    }

    private static double Seconds(SectionReader? section, string key) => section?.Duration(key)?.TotalSeconds ?? 0;

    private static void SayTwice(IReadOnlyList<SectionReader> sections)
    {
        var lines = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (SectionReader section in sections)
        {
            if (section.Slug("key") is { } key && !lines.TryAdd(key, section.LineOf("key")))
            {
                section.Say("key", $"'{key}' stands already in line {lines[key]}", "give each its own key");
            }
        }
    }
}
