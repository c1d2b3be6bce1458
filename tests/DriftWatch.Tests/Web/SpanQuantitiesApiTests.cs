using System.Net;
using System.Text.Json;
using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Storage;
using DriftWatch.Tests.Storage;
using DriftWatch.Web;
using Xunit;

namespace DriftWatch.Tests.Web;

/// <summary>
/// Three hours of supply and regulated air at 1 Hz, judged ten times a second. The supply stands at 98.75 psi, the regulated at 48.75, so the
/// headroom is 50 psi; but one reading of the regulated is 36.25: for that second the headroom is 62.5. Ten minutes nobody watched.
/// </summary>
public sealed class KnownHeadroomFixture : IAsyncLifetime, IDisposable
{
    public const string Quantity = "supply-headroom";
    public const int Seconds = 3 * 3600;
    public const int DipAt = 5025;

    public static readonly (int From, int To) Gap = (7200, 7800);

    private readonly StoreFolder _folder = new();
    private StoredView? _view;

    internal ServedBench Served { get; private set; } = null!;

    public async Task InitializeAsync()
    {
        Fill(_folder);
        _view = new StoredView(_folder.Path);
        Served = await ServedBench.StartAsync(new WebSettings(), _view);
    }

    public async Task DisposeAsync() => await Served.DisposeAsync();

    public void Dispose()
    {
        _view?.Dispose();
        _folder.Dispose();
    }

    internal static void Fill(StoreFolder folder)
    {
        BenchDefinition bench = LogMaker.Bench(2);
        bench = bench with
        {
            Channels = [.. bench.Channels.Select(c => c with { Role = c.Key == 0 ? ChannelRole.RegulatedAir : ChannelRole.SupplyAir, Period = TimeSpan.FromSeconds(1), Limits = [] })],
            Quantities = [new QuantityDefinition { Kind = QuantityKind.SupplyHeadroom, Id = Quantity, Label = "Supply over regulated air", Unit = "psi" }],
        };
        var log = new LogMaker();
        log.Start(default, KnownNight.Begin, bench);
        for (int second = 1; second <= Seconds; second++)
        {
            if (second > Gap.From && second <= Gap.To)
            {
                if (second == Gap.To)
                {
                    log.Start(EngineTime.FromSeconds(second), KnownNight.Begin.AddSeconds(second), bench);
                }

                continue;
            }

            EngineTime at = EngineTime.FromSeconds(second);
            log.Add(EngineInput.OfReading(at, 0, Reading.Of(second == DipAt ? 3.0 : 4.0)));
            log.Add(EngineInput.OfReading(at, 1, Reading.Of(8.0)));
            for (int tenth = 0; tenth < 10; tenth++)
            {
                log.Add(EngineInput.OfTick(EngineTime.FromSeconds(second + (tenth / 10.0))));
            }
        }

        using BenchStore store = folder.Open();
        foreach (EngineInput[] piece in log.Inputs.Chunk(20_000))
        {
            store.Append(piece);
        }

        while (store.MergeDue() > 0)
        {
        }
    }
}

public sealed class SpanQuantitiesApiTests(KnownHeadroomFixture fixture) : IClassFixture<KnownHeadroomFixture>
{
    private const string Root = "/api/v1/benches/west-bench/span";
    private const double Level = 98.75 - 48.75;
    private const double Peak = 98.75 - 36.25;
    private readonly ServedBench _served = fixture.Served;

    [Theory]
    [InlineData(0, KnownHeadroomFixture.Seconds)]
    [InlineData(-80_000, KnownHeadroomFixture.Seconds)]
    [InlineData(4800, 5400)]
    [InlineData(KnownHeadroomFixture.DipAt - 5, KnownHeadroomFixture.DipAt + 5)]
    public async Task What_was_judged_for_a_second_is_in_the_column_of_its_instant_at_every_zoom(double from, double to)
    {
        foreach (int columns in (int[])[7, 100, 1200, 5000])
        {
            JsonElement answer = await _served.GetAsync(Path("/quantities", from, to, $"&columns={columns}"));
            double step = answer.GetProperty("columnSeconds").GetDouble();
            Assert.True(step >= 0.1); // no finer than judgement looks
            DateTimeOffset begin = answer.GetProperty("starts")[0].GetProperty("at").GetDateTimeOffset();
            double?[] greatest = Numbers(answer, "maximum"), least = Numbers(answer, "minimum");
            int at = (int)Math.Floor(((KnownNight.Begin.AddSeconds(KnownHeadroomFixture.DipAt) - begin).TotalSeconds / step) + 1e-9);
            Assert.Equal(Peak, greatest[at]);
            Assert.Equal(step > 1 ? Level : Peak, least[at]);
            Assert.Equal(Math.Max(1, (int)Math.Round(1 / step)), greatest.Count(g => g > Level)); // that second and no other
            Assert.All(least, l => Assert.True(l is null or Level or Peak));
        }
    }

    [Fact]
    public async Task A_column_has_the_mean_over_its_time_what_nobody_watched_stays_empty_and_asking_again_or_moved_gives_the_same()
    {
        JsonElement answer = await _served.GetAsync(Path("/quantities", 0, KnownHeadroomFixture.Seconds, "&columns=360"));
        Assert.Equal(30, answer.GetProperty("columnSeconds").GetDouble());
        double?[] mean = Numbers(answer, "mean");
        Assert.Equal(Level + ((Peak - Level) * 10 / 300), mean[KnownHeadroomFixture.DipAt / 30]!.Value, 1e-5);
        Assert.All(mean[(KnownHeadroomFixture.Gap.From / 30 + 1)..(KnownHeadroomFixture.Gap.To / 30)], Assert.Null);
        Assert.Equal(mean, Numbers(await _served.GetAsync(Path("/quantities", 0, KnownHeadroomFixture.Seconds, "&columns=360")), "mean"));
        double?[] moved = Numbers(await _served.GetAsync(Path("/quantities", 90, KnownHeadroomFixture.Seconds + 90, "&columns=360")), "mean");
        Assert.Equal(mean[3..], moved[..(mean.Length - 3)]);
    }

    [Fact]
    public async Task A_span_that_would_take_too_long_is_refused_in_words_and_nothing_is_worked_out()
    {
        JsonElement problem = await _served.GetAsync(Path("/quantities", -200_000, 0, ""), HttpStatusCode.Conflict);
        Assert.Contains("at most 36 h", problem.GetProperty("detail").GetString(), StringComparison.Ordinal);
        Assert.Equal("Choose a shorter span.", problem.GetProperty("remedy").GetString());
        await _served.GetAsync(Path("/picture", -200_000, 0, "&quantities=all"), HttpStatusCode.Conflict);
    }

    [Theory]
    [InlineData("/quantities", "quantities=nose", "quantities")]
    [InlineData("/picture", "compare=tomorrow", "compare")]
    [InlineData("/csv", "values=readings&quantities=all", "values")]
    [InlineData("/csv", "values=readings&compare=2026-01-15T18:00:00Z", "values")]
    public async Task A_wrong_parameter_is_named_with_what_to_write_instead(string what, string query, string parameter)
    {
        JsonElement problem = await _served.GetAsync(Path(what, 0, 600, "&" + query), HttpStatusCode.BadRequest);
        Assert.Equal(parameter, problem.GetProperty("parameter").GetString());
    }

    [Fact]
    public async Task A_picture_has_derived_quantities_and_the_other_span_as_the_screen_has_them()
    {
        string alone = await _served.Client.GetStringAsync(Path("/picture", 4000, 4600, "&format=svg"));
        string with = await _served.Client.GetStringAsync(Path("/picture", 4000, 4600, $"&format=svg&quantities=all&compare={KnownNight.At(5000)}"));
        Assert.DoesNotContain("Supply over regulated air", alone, StringComparison.Ordinal);
        Assert.Contains("Supply over regulated air", with, StringComparison.Ordinal);
        Assert.Contains("black dashes: from 15 Jan 2026 19:23:20 on", with, StringComparison.Ordinal);
        Assert.DoesNotContain("black dashes", alone, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_table_as_shown_has_derived_quantities_and_the_other_span_beside_each()
    {
        string csv = await _served.Client.GetStringAsync(Path("/csv", 4000, 4100, $"&columns=100&channels=channel-0&quantities=all&compare={KnownNight.At(5000)}"));
        string[] rows = [.. csv.TrimEnd().Split('\n').Select(r => r.TrimEnd())];
        Assert.Equal(
            "time,channel-0,channel-0.min,channel-0.max,supply-headroom,supply-headroom.min,supply-headroom.max,"
            + "channel-0.then,channel-0.then.min,channel-0.then.max,supply-headroom.then,supply-headroom.then.min,supply-headroom.then.max",
            rows[0]);
        string dip = $"{KnownNight.At(4025)},48.75,48.75,48.75,50,50,50,36.25,36.25,36.25,62.5,62.5,62.5"; // 25 s into the other span
        Assert.Equal(dip, rows.Single(r => r.Contains("62.5", StringComparison.Ordinal)));
        Assert.Equal(100 + 1, rows.Length);
    }

    private static string Path(string what, double from, double to, string more) => $"{Root}{what}?from={KnownNight.At(from)}&to={KnownNight.At(to)}{more}";

    private static double?[] Numbers(JsonElement answer, string name) =>
        [.. answer.GetProperty("channels")[0].GetProperty(name).EnumerateArray().Select(v => v.ValueKind == JsonValueKind.Null ? (double?)null : v.GetDouble())];
}
