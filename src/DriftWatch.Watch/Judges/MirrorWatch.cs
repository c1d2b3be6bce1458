using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Watch.Roles;
using DriftWatch.Watch.Snapshots;
using DriftWatch.Watch.Speaking;

namespace DriftWatch.Watch.Judges;

/// <summary>
/// A mirror that is behind is trouble of those who watch this bench by it, and its finding tells from when to when. It lasts over
/// restarts: the next process says how the mirror stands as soon as its server has answered.
/// </summary>
internal sealed class MirrorWatch
{
    /// <summary>The one trouble in which something is lost: the bench's own retention took it before the server had it.</summary>
    private const string Expired = "lines-expired";

    private readonly List<(string Mirror, OpenFinding Finding)> _open = [];

    public void OnFails(WatchContext context, MirrorFailsCommand said)
    {
        int at = _open.FindIndex(o => o.Mirror == said.Mirror);
        if (at < 0)
        {
            _open.Add((said.Mirror, context.Desk.Raise(FactsOf(said, context.Now - said.For))));
        }
        else if (_open[at].Finding.Line.Cause != said.Trouble)
        {
            context.Desk.Update(_open[at].Finding, FactsOf(said, _open[at].Finding.Line.Start));
        }
    }

    public void OnTakes(WatchContext context, MirrorTakesCommand said)
    {
        int at = _open.FindIndex(o => o.Mirror == said.Mirror);
        if (at < 0)
        {
            return;
        }

        FindingLine line = _open[at].Finding.Line;
        double seconds = (context.Now - line.Start).TotalSeconds;
        string now = said.Older is null ? "is no mirror of this bench any more"
            : $"takes what is new again{(said.Older > 0 ? string.Create(System.Globalization.CultureInfo.InvariantCulture, $"; {said.Older} older inputs are still to be sent") : "")}";
        context.Desk.End(
            _open[at].Finding,
            new FindingFacts
            {
                Kind = line.Kind,
                Subject = said.Mirror,
                Severity = line.Severity,
                Start = line.Start,
                Value = line.Limit is null ? null : seconds,
                Limit = line.Limit,
                Unit = line.Unit,
                LimitSource = line.LimitSource,
                Cause = line.Cause,
                Text = $"Mirror {said.Mirror}, after {Say.Length(seconds)}: it {now}.",
                Details = [new FindingDetail("mirror", null, said.Mirror), new FindingDetail("endedBy", null, said.Older is null ? "mirror-removed" : "mirror-takes")],
            },
            context.Now);
        _open.RemoveAt(at);
    }

    private static FindingFacts FactsOf(MirrorFailsCommand said, EngineTime start) => new()
    {
        Kind = FindingKinds.MirrorFailing,
        Subject = said.Mirror,
        Severity = Severity.Advisory,
        Start = start,
        Value = said.May is null ? null : said.For.TotalSeconds,
        Limit = said.May?.TotalSeconds,
        Unit = said.May is null ? null : "s",
        LimitSource = said.May is null ? null : "the bench file (tell-after of the mirror)",
        Cause = said.Trouble,
        Text = $"Mirror {said.Mirror}: {said.Text.TrimEnd('.')}. {(said.Trouble == Expired ? "Their readings are gone here too" : "Nothing is lost here")}, and watching goes on; whoever watches this bench by that server sees it as it was.",
        Details = [new FindingDetail("mirror", null, said.Mirror)],
    };

    public void Sync(StateArchive archive, FindingDesk desk)
    {
        int count = archive.SyncCount(_open.Count);
        for (int i = 0; i < count; i++)
        {
            string? mirror = archive.IsWriting ? _open[i].Mirror : null;
            OpenFinding? finding = archive.IsWriting ? _open[i].Finding : null;
            archive.Sync(ref mirror);
            desk.Sync(archive, ref finding);
            if (!archive.IsWriting)
            {
                _open.Add((mirror!, finding!));
            }
        }
    }
}
