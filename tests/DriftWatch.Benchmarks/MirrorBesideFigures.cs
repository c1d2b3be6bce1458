using System.Globalization;
using DriftWatch.Benchmarks.Bed;
using DriftWatch.Benchmarks.Servers;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Time;
using DriftWatch.Mirror;
using DriftWatch.Storage.Mirror;
using DriftWatch.Watch;
using DriftWatch.Watch.Drifts;

namespace DriftWatch.Benchmarks;

/// <summary>
/// What a bench sends beside its readings: hours of the practice bench are judged, and what the mirror would send of how it stands, its drifts,
/// alarms and findings is counted, and weighed on two real servers, as so many benches.
/// </summary>
internal static class MirrorBesideFigures
{
    private static readonly (string Name, string? Value)[] Tags = [("site", "annex")];

    public static void Run(TextWriter output, Size size)
    {
        var length = TimeSpan.FromHours(size == Size.Full ? 4 : 0.1);
        foreach (bool troubled in new[] { false, true })
        {
            foreach (bool isMinute in new[] { false, true })
            {
                Beside(output, length, troubled, isMinute, copies: size == Size.Full ? 10 : 1);
            }
        }
    }

    private static void Beside(TextWriter output, TimeSpan length, bool troubled, bool isMinute, int copies)
    {
        DateTimeOffset begin = TimeProvider.System.GetUtcNow() - length;
        using var promql = new VictoriaMetricsPeer();
        using var influxql = new InfluxPeer(Size.Smoke);
        using var one = new LineServer(new LineServerOptions { Url = promql.Url, Bucket = "driftwatch" }, new SocketsHttpHandler());
        using var other = new LineServer(new LineServerOptions { Url = influxql.Url, Bucket = "bench", Way = WriteWay.V1 }, new SocketsHttpHandler());
        var counts = new SortedDictionary<string, (long Lines, long Values, HashSet<string> Series)>(StringComparer.Ordinal);
        var pending = new System.Text.StringBuilder();
        Lines(length, begin, troubled, isMinute, lines =>
        {
            foreach (string line in lines.Split('\n', StringSplitOptions.RemoveEmptyEntries))
            {
                string head = line[..line.IndexOf(' ', StringComparison.Ordinal)];
                string[] fields = line[(head.Length + 1)..line.LastIndexOf(' ')].Split(',');
                string measurement = head[..head.IndexOf(',', StringComparison.Ordinal)];
                (long count, long values, HashSet<string> series) = counts.GetValueOrDefault(measurement, (0, 0, []));
                series.UnionWith(fields.Select(f => head + f[..f.IndexOf('=', StringComparison.Ordinal)]));
                counts[measurement] = (count + 1, values + fields.Length, series);
                for (int copy = 0; copy < copies; copy++)
                {
                    pending.Append(line.Replace("bench=practice", $"bench=practice-{copy}", StringComparison.Ordinal)).Append('\n');
                }
            }

            if (pending.Length > 1_000_000)
            {
                Send();
            }
        });
        Send();
        promql.Flush();
        promql.Settle();
        influxql.Settle();
        double days = length.TotalDays;
        string what = $"mirror-beside, {(troubled ? "something fails every minute" : "sound transfers")}, detail {(isMinute ? "minute" : "reading or second")}, {length.TotalHours:0.##} h as {copies} benches";
        foreach ((string measurement, (long lines, long values, HashSet<string> series)) in counts)
        {
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{what}: {measurement} {lines / days:N0} lines and {values / days:N0} values a day of one bench, in {series.Count} series"));
        }

        long all = counts.Values.Sum(c => c.Values);
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{what}: together {counts.Values.Sum(c => c.Lines) / length.TotalSeconds:0.000} lines/s, {all / length.TotalSeconds:0.00} values/s in {counts.Values.Sum(c => c.Series.Count)} series; a day of one bench {promql.Size / days / copies:N0} bytes on victoria-metrics ({promql.SizeNote}), {influxql.Size / days / copies:N0} on influxdb ({influxql.SizeNote})"));

        void Send()
        {
            string lines = pending.ToString();
            pending.Clear();
            foreach (LineServer way in lines.Length > 0 ? [one, other] : Array.Empty<LineServer>())
            {
                SendAnswer answer = way.SendAsync(lines, CancellationToken.None).GetAwaiter().GetResult();
                if (!answer.IsTaken)
                {
                    throw new InvalidOperationException($"the server refuses: {answer.Said}");
                }
            }
        }
    }

    /// <summary>What a mirror sends at the instants at which it would, of inputs that are judged as live ones are.</summary>
    private static void Lines(TimeSpan length, DateTimeOffset begin, bool troubled, bool isMinute, Action<string> take)
    {
        var engine = new WatchEngine();
        var findings = new List<FindingLine>();
        var alarms = new List<AlarmTransition>();
        var text = new LineText();
        IReadOnlyList<ChannelDrift> drifts = [];
        double standingDue = 0, driftsDue = 60, allDue = 60;
        foreach (EngineInput input in PracticeBench.Night(length, begin, troubled))
        {
            engine.Apply(input, findings, alarms);
            foreach (AlarmTransition line in alarms)
            {
                EventLines.Write(line, Tags, text);
            }

            foreach (FindingLine line in findings)
            {
                EventLines.Write(line, Tags, text);
            }

            alarms.Clear();
            findings.Clear();
            if (input.Time.Seconds >= standingDue)
            {
                standingDue += 15;
                drifts = input.Time.Seconds >= driftsDue ? engine.Drifts : drifts; // the service has them worked out once a minute as well
                var standing = new BenchStanding(
                    engine.State, engine.OpenAlarms.Count(a => a.IsActive), engine.OpenAlarms.Count(a => a.To is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged), drifts.Max(d => d.UsedShare), 0)
                {
                    Drifts = drifts,
                };
                long utc = (begin + TimeSpan.FromSeconds(input.Time.Seconds)).ToUnixTimeMilliseconds();
                EventLines.Write(standing, "practice", Tags, text, utc);
                if (input.Time.Seconds >= driftsDue)
                {
                    driftsDue += 60;
                    bool all = !isMinute || input.Time.Seconds >= allDue;
                    allDue += all ? 900 : 0;
                    EventLines.WriteDrifts(standing, "practice", Tags, text, utc, all);
                }
            }

            if (text.Lines > 0)
            {
                take(text.Take());
            }
        }
    }
}
