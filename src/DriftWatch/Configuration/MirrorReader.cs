using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;

namespace DriftWatch.Configuration;

/// <summary>The mirrors of a bench file, and what may keep one from working; the bench is watched all the same.</summary>
internal sealed record MirrorPlan(IReadOnlyList<MirrorSettings> Mirrors, IReadOnlyList<FileMistake> Warnings)
{
    public static MirrorPlan None { get; } = new([], []);
}

/// <summary>Reads a bench file's mirrors.</summary>
internal sealed class MirrorReader(string file)
{
    private readonly FarEndReader _far = new(file);

    public MirrorPlan Read(IReadOnlyList<SectionReader> sections)
    {
        var mirrors = new List<MirrorSettings>();
        var seen = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (SectionReader section in sections)
        {
            string? id = section.Slug("id");
            if (id is not null && !seen.TryAdd(id, section.LineOf("id")))
            {
                section.Say("id", $"mirror '{id}' stands already in line {seen[id]}", "write another id");
            }

            if (Mirror(section, id ?? "") is { } mirror)
            {
                mirrors.Add(mirror);
            }
        }

        return new MirrorPlan(mirrors, _far.Warnings.InReadingOrder(file));
    }

    private MirrorSettings? Mirror(SectionReader section, string id)
    {
        if (!FarEndReader.HasUrl(section))
        {
            section.SayHere($"{section.Name} goes nowhere", "write url = \"https://series.example.org:8428\"; or url-env or url-file, where the URL is a key itself");
            return null;
        }

        WriteWay way = section.Choice<WriteWay>("way") ?? WriteWay.V2;
        string? user = section.Text("user");
        var mirror = new MirrorSettings
        {
            Id = id,
            File = file,
            Line = section.Line,
            Url = _far.Url(section),
            Way = way,
            Counts = section.Choice<CountWay>("counts") ?? (way == WriteWay.V1 ? CountWay.Influxql : CountWay.None),
            Detail = section.Choice<MirrorDetail>("detail") ?? MirrorDetail.Reading,
            Bucket = section.Text("bucket") ?? "driftwatch",
            Organisation = section.Text("organisation"),
            User = user,
            Key = _far.Secret(section, "key"),
            TrustFile = _far.TrustFile(section),
            Site = section.Text("site"),
            SendsPast = section.Flag("past") ?? true,
            TellAfter = section.Duration("tell-after") ?? TimeSpan.FromMinutes(30),
        };
        if (user is not null && mirror.Key is null)
        {
            section.Say("user", "there is a user and no password", "write key-env or key-file");
        }

        if (mirror.Key is not null && mirror.Url?.Written is { Scheme: "http" } url && !FarEndReader.IsHere(url.Host))
        {
            _far.Warn(section, "url", "the key would go through the network in the clear", "write an https URL");
        }

        if (way == WriteWay.V1 && mirror.Organisation is not null)
        {
            section.Say("organisation", "the older way has no organisation", "take it out, or write way = \"v2\"");
        }

        return mirror;
    }
}
