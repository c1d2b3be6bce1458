using System.Globalization;
using System.Text;
using System.Text.Json.Nodes;
using CsCheck;
using DriftWatch.Calibrating;
using DriftWatch.Cli;
using DriftWatch.Cli.Calibrating;
using DriftWatch.Configuration;
using DriftWatch.Measurement.Alarms;
using DriftWatch.Measurement.Findings;
using DriftWatch.Measurement.Inputs;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Packages;
using DriftWatch.Running;
using DriftWatch.Storage;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Web;
using DriftWatch.Web;
using Microsoft.Data.Sqlite;
using BenchReader = DriftWatch.Storage.Queries.BenchReader;

namespace DriftWatch.Tests.Calibrating;

/// <summary>
/// A calibration entered into a store: what it is applied to, what judging again makes of it, and that no stored byte of a reading changes.
/// The recording holds 90 s of 50 psi by a sensor that the sheet finds to read 1 psi too high; its lower limit is 49.5 psi.
/// </summary>
public sealed class CalibrationEntryTests : IDisposable
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 14, 12, 0, 0, TimeSpan.Zero);
    private readonly string _folder = Directory.CreateTempSubdirectory("driftwatch-calibrate-").FullName;

    private string Store => Path.Combine(_folder, "store");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task Applied_back_it_changes_what_is_shown_from_its_instant_on_and_nothing_that_was_found()
    {
        await ImportAsync(Store);
        string found = await FindingsAsync();
        (int code, string output, string error) = await CommandLineTests.RunAsync(
            "calibrate", Store, "air", "--sheet", Sheet(), "--by", "Ida Wren", "--from", "2026-03-14T12:00:30Z", "--data", In("air.json"), "--certificate", In("air.pdf"));
        Assert.True(code == ExitCode.Done, error + output);
        Assert.Contains("Entered as version 2 of air", output, StringComparison.Ordinal);
        Assert.Contains("no certificate of an accredited laboratory", output, StringComparison.Ordinal);
        Assert.Equal("%PDF", Encoding.ASCII.GetString(File.ReadAllBytes(In("air.pdf")), 0, 4));

        // Shown: by export and by the page's history alike.
        double[] values = await ExportAsync();
        Assert.All(values.Take(30), v => Assert.Equal(50, v, 0.06));
        Assert.All(values.Skip(31), v => Assert.Equal(49, v, 0.15));
        using (var view = new StoredView(Store))
        {
            Assert.Equal(50, Mean(view, 5, 25), 0.05);
            Assert.Equal(49, Mean(view, 40, 80), 0.15);

            // Single readings by the page as well.
            await using ServedBench served = await ServedBench.StartAsync(new WebSettings(), view);
            string csv = await served.Client.GetStringAsync($"/api/v1/benches/{view.Bench.Id}/span/csv?from=2026-03-14T12:00:00Z&to=2026-03-14T12:01:30Z");
            double[] rows = [.. csv.Split('\n', StringSplitOptions.RemoveEmptyEntries).Skip(1).Select(l => double.Parse(l.Split(',')[1], CultureInfo.InvariantCulture))];
            Assert.All(rows.Take(30), v => Assert.Equal(50, v, 0.06));
            Assert.All(rows.Skip(31), v => Assert.Equal(49, v, 0.15));
            Assert.True(rows.Length > 80, $"{rows.Length} rows");
        }

        // Found: the day's lines stay, but for the note of the entry; judged again, it is below its limit from there on.
        string after = await FindingsAsync();
        Assert.StartsWith(found, after, StringComparison.Ordinal);
        Assert.Contains("what was found till now stays as it was judged", after[found.Length..], StringComparison.Ordinal);
        Assert.DoesNotContain("below-limit", after, StringComparison.Ordinal);
        (code, _, error) = await CommandLineTests.RunAsync("judge", Store, "--recalibrated", "--out", In("again.jsonl"));
        Assert.True(code == ExitCode.Done, error);
        Assert.Contains("applied back", error, StringComparison.Ordinal);
        FindingLine[] again = [.. File.ReadAllLines(In("again.jsonl")).Select(l => FindingJson.Read(Encoding.UTF8.GetBytes(l)))];
        Assert.All(again, l => Assert.Single(l.Recalibrated!));
        FindingLine below = again.First(l => l.Kind == FindingKinds.BelowLimit);
        Assert.True(below.StartUtc >= UtcText.ToNanoseconds(Noon.AddSeconds(29)), below.Text);

        // Its alarms stand beside those of the day: in lines that name the calibration, and held against them.
        (code, _, error) = await CommandLineTests.RunAsync("judge", Store, "--recalibrated", "--out", In("again.jsonl"), "--alarms", In("again-alarms.jsonl"));
        Assert.True(code == ExitCode.Done, error);
        AlarmTransition[] alarms = [.. File.ReadAllLines(In("again-alarms.jsonl")).Select(l => AlarmJson.Read(Encoding.UTF8.GetBytes(l)))];
        Assert.Contains(alarms, l => l.Channel == "air" && l.Step == AlarmStep.Raised);
        Assert.All(alarms, l => Assert.Single(l.Recalibrated!));
        (code, output, error) = await CommandLineTests.RunAsync("judge", Store, "--recalibrated", "--compare", "--from", "2026-03-14T12:00:10Z", "--alarms", In("would.jsonl"));
        Assert.True(code == ExitCode.Done, error);
        Assert.Contains("0 kept, 0 gone, 1 new.", output, StringComparison.Ordinal);
        Assert.Contains("only the calibrations that were applied back tell them apart", output, StringComparison.Ordinal);
        Assert.All(File.ReadAllLines(In("would.jsonl")), l => Assert.Single(AlarmJson.Read(Encoding.UTF8.GetBytes(l)).Recalibrated!));
        (code, _, error) = await CommandLineTests.RunAsync("judge", Store, "--recalibrated", "--bench", In("other.toml"));
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains("brings calibrations of its own", error, StringComparison.Ordinal);

        (code, output, _) = await CommandLineTests.RunAsync("calibrations", Store, "--channel", "air");
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("2 in force", output, StringComparison.Ordinal);
        Assert.Contains("applied back", output, StringComparison.Ordinal);
        string id = CalibrationDocument.Read(System.Text.Json.JsonDocument.Parse(File.ReadAllBytes(In("air.json"))).RootElement).Id.ToString();
        (code, _, error) = await CommandLineTests.RunAsync("calibrations", Store, "--id", id, "--certificate", In("again.pdf"));
        Assert.True(code == ExitCode.Done, error);
        Assert.Equal(File.ReadAllBytes(In("air.pdf")), File.ReadAllBytes(In("again.pdf")));
    }

    [Fact]
    public async Task Without_an_instant_it_holds_from_its_entry_on_and_judging_again_has_nothing_to_do()
    {
        await ImportAsync(Store);
        double[] before = await ExportAsync();
        (int code, _, string error) = await CommandLineTests.RunAsync("calibrate", Store, "air", "--sheet", Sheet(), "--by", "Ida Wren");
        Assert.True(code == ExitCode.Done, error);
        Assert.Equal(before, await ExportAsync());
        (code, _, error) = await CommandLineTests.RunAsync("judge", Store, "--recalibrated", "--out", In("again.jsonl"));
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("no calibration was applied back", error, StringComparison.Ordinal);

        // What comes after it is judged and shown with it, by a writer that opens the store again.
        using BenchStore store = BenchStore.Open(Store, new BenchStoreOptions { BallastBytes = 0 });
        using BenchReader reader = store.OpenReader();
        CalibrationTable table = CalibrationTable.Of(reader);
        int key = store.CurrentBench!.Channels.Single(c => c.Id == "air").Key;
        Assert.Equal(49, table[key].Convert(50), 0.15);
        EngineInput last = store.ReadInputs(store.LastNumber - 1).Single();
        Assert.Equal(InputKind.Calibration, last.Kind);
        Assert.Equal("Ida Wren", last.Calibration.By);
        Assert.Equal(7, last.Calibration.Id!.Value.Version);
    }

    [Fact]
    public async Task A_report_names_what_turned_the_readings_of_its_run_with_its_uncertainty()
    {
        await ImportAsync(Store);
        (int code, _, string error) = await CommandLineTests.RunAsync("calibrate", Store, "air", "--sheet", Sheet(), "--by", "Ida Wren", "--from", "2026-03-14T12:00:30Z");
        Assert.True(code == ExitCode.Done, error);
        long entered;
        using (BenchStore store = BenchStore.Open(Store, new BenchStoreOptions { BallastBytes = 0 }))
        {
            int key = store.CurrentBench!.Channels.Single(c => c.Id == "air").Key;
            EngineTime at = store.LastTime;
            long number = store.LastNumber;
            using BenchReader reader = store.OpenReader();
            entered = reader.ReadAnchors().ToUtcNanoseconds(at);
            store.Append([.. Enumerable.Range(1, 30).Select(i => EngineInput.OfReading(at + TimeSpan.FromSeconds(i), key, Reading.Of(50)) with { Number = ++number })]);
        }

        // As it was judged: what was applied back turned no reading while the first run lasted.
        Dossier before = DossierReader.OfSpan(Store, null, entered);
        Assert.Equal([1], before.Calibrations.Select(c => c.Calibration.Version));
        Assert.Null(before.Calibrations[0].Document);
        Dossier after = DossierReader.OfSpan(Store, entered, null);
        DossierCalibration used = Assert.Single(after.Calibrations);
        Assert.Equal((2, "Ida Wren"), (used.Calibration.Version, used.Document!.By));
        Assert.Equal(49, after.Channels.Single(c => c.Channel.Id == "air").Mean!.Value, 0.15);

        Assert.Equal(ExitCode.Done, (await CommandLineTests.RunAsync("report", Store, "--from", UtcText.FromNanoseconds(entered), "--out", In("report.html"))).Code);
        string text = File.ReadAllText(In("report.html"));
        Assert.Contains($"{new CalibrationFigures(used.Document).Value(used.Document.Budget.Expanded)} psi", text, StringComparison.Ordinal);
        Assert.Contains("Ida Wren, test gauge", text, StringComparison.Ordinal);
        Assert.DoesNotContain("No calibration of this bench states an uncertainty", text, StringComparison.Ordinal);
    }

    /// <summary>A night is packed long after it: what was entered since belongs to it only where it was applied back to it.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_package_has_the_calibrations_up_to_its_span_s_end_and_those_applied_back_into_it(bool isAppliedBack)
    {
        await ImportAsync(Store);
        long end;
        using (BenchStore store = BenchStore.Open(Store, new BenchStoreOptions { BallastBytes = 0 }))
        {
            using BenchReader reader = store.OpenReader();
            end = reader.ReadAnchors().ToUtcNanoseconds(store.LastTime);
        }

        (int code, _, string error) = await CommandLineTests.RunAsync(
            ["calibrate", Store, "air", "--sheet", Sheet(), "--by", "Ida Wren", .. isAppliedBack ? ["--from", "2026-03-14T12:00:30Z"] : Array.Empty<string>()]);
        Assert.True(code == ExitCode.Done, error);
        await EvidencePackage.WriteAsync(Store, DossierReader.OfSpan(Store, null, end), In("bag"), TimeZoneInfo.Utc, Noon, CancellationToken.None);
        string[] lines = await File.ReadAllLinesAsync(In("bag/data/calibrations.jsonl"));
        Assert.Equal(isAppliedBack ? 2 : 1, lines.Length);
        Assert.Equal(isAppliedBack, lines.Any(l => l.Contains("Ida Wren", StringComparison.Ordinal)));
    }

    /// <summary>
    /// Whatever the instant it is applied back to: every row that holds sealed readings is there afterwards, byte for byte, and every input
    /// reads back as it was. The journal's own rows may be sealed meanwhile, as at any opening: what they held is compared as inputs.
    /// </summary>
    [Fact]
    public async Task Recalibrating_rewrites_no_stored_byte()
    {
        string original = In("original");
        await ImportAsync(original);
        string sheet = Sheet();
        int round = 0;
        await Gen.Int[-100, 200].SampleAsync(
            async second =>
            {
                string copy = In($"copy-{Interlocked.Increment(ref round)}");
                Directory.CreateDirectory(copy);
                foreach (string file in Directory.GetFiles(original).Where(f => !f.EndsWith(".lock", StringComparison.Ordinal)))
                {
                    File.Copy(file, Path.Combine(copy, Path.GetFileName(file)));
                }

                HashSet<string> before = Rows(copy);
                string[] inputs = Inputs(copy);
                Assert.NotEmpty(before);
                (int code, _, string error) = await CommandLineTests.RunAsync(
                    "calibrate", copy, "air", "--sheet", sheet, "--by", "Ida Wren", "--from", UtcText.FromNanoseconds(UtcText.ToNanoseconds(Noon.AddSeconds(second))));
                Assert.True(code == ExitCode.Done, error);
                HashSet<string> after = Rows(copy);
                Assert.Superset(before, after);
                Assert.Equal(inputs, Inputs(copy)[..^1]); // and the one that carries the calibration
                Directory.Delete(copy, recursive: true);
            },
            iter: 12, threads: 1);
    }

    [Fact]
    public async Task A_second_one_counts_on_and_tells_drift_and_a_sheet_that_makes_nothing_enters_nothing()
    {
        await ImportAsync(Store);
        (int code, _, string error) = await CommandLineTests.RunAsync("calibrate", Store, "air", "--sheet", Sheet(), "--by", "Ida Wren");
        Assert.True(code == ExitCode.Done, error);
        (code, string output, error) = await CommandLineTests.RunAsync("calibrate", Store, "air", "--sheet", Sheet(offset: 2), "--by", "Ida Wren");
        Assert.True(code == ExitCode.Done, error);
        Assert.Contains("version 3", output, StringComparison.Ordinal);
        Assert.Contains("Since version 2: −", output, StringComparison.Ordinal);

        string broken = In("broken.toml");
        File.WriteAllText(broken, "[reference]\nname = \"test gauge\"\n[[point]]\nreference = 1\nraw = [1]\n");
        (code, _, error) = await CommandLineTests.RunAsync("calibrate", Store, "air", "--sheet", broken, "--by", "Ida Wren");
        Assert.Equal(ExitCode.BadInput, code);
        Assert.Contains("not enough data: 1 of 3 points", error, StringComparison.Ordinal);
        (code, _, error) = await CommandLineTests.RunAsync("calibrate", Store, "air", "--sheet", Sheet());
        Assert.Equal(ExitCode.Usage, code);
        Assert.Contains("--by", error, StringComparison.Ordinal);
        using var reader = new BenchReader(Store);
        Assert.Equal([2, 3], reader.Calibrations().Select(c => c.Calibration.Version));
    }

    [Fact]
    public async Task Where_a_service_writes_the_store_is_refused_and_the_service_named()
    {
        await ImportAsync(Store);
        using BenchStore held = BenchStore.Open(Store, new BenchStoreOptions { BallastBytes = 0 });
        (int code, _, string error) = await CommandLineTests.RunAsync("calibrate", Store, "air", "--sheet", Sheet(), "--by", "Ida Wren");
        Assert.Equal(ExitCode.Environment, code);
        Assert.Contains("give its address in place of the folder", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Guided_at_the_terminal_it_asks_the_way_up_and_down_and_enters_when_told_to()
    {
        await ImportAsync(Store);
        string answers = string.Join('\n', ["test gauge", "G-7", "", "", "0.05", "", "0.01", "0.5", "0.001", "0 50 100", "", "1.0 1.1", "", "51.0 51.1", "", "101.0 101.1", "", "51.1 51.2", "", "1.1 1.2", "21 °C", "", "y", ""]);
        using var output = new StringWriter();
        int code = await CalibrateCommand.RunAsync(
            new CalibrateCommand.Job(Store, "air", null, "Ida Wren", null, null, null, false, null), new StringReader(answers), output, TimeProvider.System, default);
        Assert.Equal(ExitCode.Done, code);
        string said = output.ToString();
        Assert.Contains("Point 5 of 5, going down: set the reference to 0 psi", said, StringComparison.Ordinal);
        Assert.Contains("compressed air", said, StringComparison.Ordinal);
        Assert.Contains("Entered as version 2", said, StringComparison.Ordinal);

        CommandException ended = await Assert.ThrowsAsync<CommandException>(() => CalibrateCommand.RunAsync(
            new CalibrateCommand.Job(Store, "air", null, "Ida Wren", null, null, null, false, null), new StringReader("test gauge\n"), output, TimeProvider.System, default));
        Assert.Contains("nothing was entered", ended.Message, StringComparison.Ordinal);
    }

    /// <summary>The mains fail at the fourth of five points: what was measured is not measured again, and comes to the same as in one go.</summary>
    [Fact]
    public async Task Guided_over_a_power_cut_it_goes_on_where_it_was()
    {
        await ImportAsync(Store);
        string[] head = ["test \"gauge\" é", "G-7", "", "", "0.05", "", "0.01", "0.5", "0.001"];
        string[] first = ["0 50 100", "", "1.0 1.1", "", "51.0 51.1", "100.02", "101.0 101.1"], rest = ["", "51.1 51.2", "", "1.1 1.2", "21 °C", ""];
        string keep = In("kept.toml");
        CalibrateCommand.Job whole = new(Store, "air", null, "Ida Wren", null, In("whole.json"), null, TryOnly: true, null), kept = new(Store, "air", null, "Ida Wren", null, In("kept.json"), null, false, null, keep);
        using var output = new StringWriter();
        await CalibrateCommand.RunAsync(whole, new StringReader(string.Join('\n', [.. head, .. first, .. rest, ""])), output, TimeProvider.System, default);

        await Assert.ThrowsAsync<CommandException>(() => CalibrateCommand.RunAsync(kept, new StringReader(string.Join('\n', [.. head, .. first])), output, TimeProvider.System, default));
        Assert.Equal(3, CalibrationSheetFile.Load(keep).Sheet!.Points!.Count);
        CommandException left = await Assert.ThrowsAsync<CommandException>(() => CalibrateCommand.RunAsync(kept, new StringReader("n\nn\n"), output, TimeProvider.System, default));
        Assert.Contains("stays, and can be entered with --sheet", left.Message, StringComparison.Ordinal);

        using var second = new StringWriter();
        int code = await CalibrateCommand.RunAsync(kept, new StringReader(string.Join('\n', ["y", "0 50 100", .. rest, "y", ""])), second, TimeProvider.System, default);
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("kept.toml keeps 3 points against test \"gauge\" é that were not entered.", second.ToString(), StringComparison.Ordinal);
        Assert.DoesNotContain("Point 3 of 5", second.ToString(), StringComparison.Ordinal);
        Assert.Contains("Point 4 of 5, going down", second.ToString(), StringComparison.Ordinal);
        Assert.False(File.Exists(keep));

        // The mains fail once more, after it was entered and before what was kept is dropped.
        await Assert.ThrowsAsync<CommandException>(() => CalibrateCommand.RunAsync(kept, new StringReader(string.Join('\n', [.. head, .. first])), output, TimeProvider.System, default));
        await CalibrateCommand.RunAsync(kept, new StringReader(string.Join('\n', ["y", "0 50 100", .. rest, "y", ""])), second, TimeProvider.System, default);
        using (var reader = new BenchReader(Store))
        {
            Assert.Equal([2], reader.Calibrations().Select(c => c.Calibration.Version));
        }

        JsonNode one = JsonNode.Parse(File.ReadAllText(In("whole.json")))!, two = JsonNode.Parse(File.ReadAllText(In("kept.json")))!;
        foreach (string part in (string[])["reference", "points", "fit", "asFound", "asLeft"])
        {
            Assert.True(one[part] is null == two[part] is null && JsonNode.DeepEquals(one[part], two[part]), $"{part}: {one[part]} and {two[part]}");
        }

        Assert.NotNull(one["points"]);
    }

    [Fact]
    public async Task Where_nothing_can_be_kept_it_is_said_and_measuring_goes_on()
    {
        await ImportAsync(Store);
        using var output = new StringWriter();
        string answers = string.Join('\n', ["gauge", "", "", "", "0.05", "", "0.01", "0.5", "0.001", "0 50 100", "", "1.0 1.1", "", "51.0 51.1", "", "101.0 101.1", "", "51.1 51.2", "", "1.1 1.2", "", "", "y", ""]);
        int code = await CalibrateCommand.RunAsync(
            new CalibrateCommand.Job(Store, "air", null, "Ida Wren", null, null, null, false, null, In("no-such-folder/kept.toml")), new StringReader(answers), output, TimeProvider.System, default);
        Assert.Equal(ExitCode.Done, code);
        Assert.Contains("this can't be kept in ", output.ToString(), StringComparison.Ordinal);
        Assert.Contains("Entered as version 2", output.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void A_sheet_reads_back_as_it_was_written()
    {
        Gen<string> text = Gen.String[Gen.Char[' ', '\ud7ff'].Where(c => !char.IsControl(c)), 0, 20].Select(t => $"a{t}z");
        Gen<double?> number = Gen.Double.Where(double.IsFinite).Nullable();
        Gen<PointSheet> point = Gen.Select(number, Gen.Double.Where(double.IsFinite), Gen.Double.Where(double.IsFinite).Array[1, 5], Gen.Bool.Nullable(), Gen.Int[0, 2].Select(i => i == 0 ? "up" : i == 1 ? "down" : null))
            .Select((nominal, reference, raw, settled, direction) => new PointSheet { Nominal = nominal, Reference = reference, Raw = raw, Settled = settled, Direction = direction });
        Gen.Select(text, text.Null(), Gen.Double[0, 1e6].Nullable(), Gen.Double[1, 5].Nullable(), point.Array[1, 4]).Sample((name, note, tolerance, coverage, points) =>
        {
            var sheet = new CalibrationSheet { Reference = new ReferenceSheet { Name = name, Coverage = coverage }, Tolerance = tolerance, Note = note, Points = points };
            string path = In($"{Guid.NewGuid():N}.toml");
            File.WriteAllText(path, CalibrationSheetText.Of(sheet));
            CalibrationSheetResult read = CalibrationSheetFile.Load(path);
            Assert.True(read.Sheet is not null, string.Join('\n', read.Mistakes) + File.ReadAllText(path));
            Assert.Equal((name, note, tolerance, coverage), (read.Sheet!.Reference!.Name, read.Sheet.Note, read.Sheet.Tolerance, read.Sheet.Reference.Coverage));
            Assert.Equal(points.Length, read.Sheet.Points!.Count);
            Assert.All(points.Zip(read.Sheet.Points), p => Assert.Equal(
                (p.First.Nominal, p.First.Reference, p.First.Settled, p.First.Direction, string.Join(' ', p.First.Raw!)), (p.Second.Nominal, p.Second.Reference, p.Second.Settled, p.Second.Direction, string.Join(' ', p.Second.Raw!))));
        }, iter: 300);
    }

    private string In(string name) => Path.Combine(_folder, name);

    private async Task ImportAsync(string store)
    {
        var random = new Random(5);
        var csv = new StringBuilder("time,air\n");
        for (int i = 0; i < 90; i++)
        {
            csv.Append(CultureInfo.InvariantCulture, $"{Noon.AddSeconds(i):yyyy-MM-dd'T'HH:mm:ss.fff'Z'},{50 + (0.04 * (random.NextDouble() - 0.5)):0.000}\n");
        }

        File.WriteAllText(In("night.csv"), csv.ToString());
        File.WriteAllText(
            In("bench.toml"),
            "[bench]\nid = \"small\"\n[[instrument]]\nid = \"rig\"\nprofile = \"practice-rig\"\npractice = { seed = 3 }\n"
            + "[[channel]]\nid = \"air\"\nlabel = \"Bearing air\"\ninstrument = \"rig\"\ninput = \"sensor-rail\"\nperiod = \"1 s\"\nunit = \"psi\"\ncalibration = { line = { gain = 10.0 } }\n"
            + "[[channel.limit]]\nside = \"low\"\nseverity = \"advisory\"\nvalue = 49.5\n");
        (int code, _, string error) = await CommandLineTests.RunAsync("import", In("night.csv"), "--store", store);
        Assert.True(code == ExitCode.Done, error);
    }

    /// <summary>A recording is stored in its engineering units, so raw is psi here.</summary>
    private string Sheet(double offset = 1)
    {
        var text = new StringBuilder("tolerance = 0.5\nresolution = 0.001\n[reference]\nname = \"test gauge\"\nserial = \"G-7\"\nuncertainty = 0.05\n");
        (double Psi, string Way)[] way = [(0, "up"), (50, "up"), (100, "up"), (50, "down"), (0, "down")];
        foreach ((double psi, string direction) in way)
        {
            double shown = psi + offset + (direction == "down" ? 0.04 : 0);
            text.Append(CultureInfo.InvariantCulture, $"[[point]]\nnominal = {psi}\nreference = {psi}\ndirection = \"{direction}\"\nraw = [{shown - 0.01:0.000}, {shown + 0.01:0.000}]\n");
        }

        string path = In($"sheet-{offset}.toml");
        File.WriteAllText(path, text.ToString());
        return path;
    }

    private async Task<double[]> ExportAsync()
    {
        (int code, _, string error) = await CommandLineTests.RunAsync("export", Store, "--out", In("all.csv"));
        Assert.True(code == ExitCode.Done, error);
        return [.. File.ReadAllLines(In("all.csv")).Skip(1).Select(l => double.Parse(l.Split(',')[1], CultureInfo.InvariantCulture))];
    }

    private async Task<string> FindingsAsync()
    {
        (int code, _, string error) = await CommandLineTests.RunAsync("export", Store, "--out", In("findings.jsonl"), "--format", "findings");
        Assert.True(code == ExitCode.Done, error);
        return File.ReadAllText(In("findings.jsonl"));
    }

    private static double Mean(StoredView view, double from, double to)
    {
        long start = UtcText.ToNanoseconds(Noon);
        return view.History("air", view.FromUtcNanoseconds(start + (long)(from * 1e9)), view.FromUtcNanoseconds(start + (long)(to * 1e9)), 1).Single().Mean;
    }

    /// <summary>Every input with its payload, bit for bit.</summary>
    private static string[] Inputs(string store)
    {
        using var reader = new BenchReader(store);
        return
        [
            .. reader.ReadInputs(0).Select(i => string.Create(
                CultureInfo.InvariantCulture,
                $"{i} {i.Time.Nanoseconds} {(i.Reading.IsFault ? 0 : BitConverter.DoubleToInt64Bits(i.Reading.Raw))} {(PayloadJson.Carries(i.Kind) ? Encoding.UTF8.GetString(PayloadJson.ToUtf8(i)) : "")}")),
        ];
    }

    /// <summary>Every row of the months' tables of what is sealed, as text.</summary>
    private static HashSet<string> Rows(string store)
    {
        var rows = new HashSet<string>(StringComparer.Ordinal);
        foreach (string month in Directory.GetFiles(store, "20??-??.db"))
        {
            using var connection = new SqliteConnection($"Data Source={month};Mode=ReadOnly;Pooling=False");
            connection.Open();
            foreach (string table in (string[])["segment", "times", "block", "rollup", "explicit"])
            {
                using SqliteCommand command = connection.CreateCommand();
#pragma warning disable CA2100 // the names are ours
                command.CommandText = $"SELECT * FROM {table}";
#pragma warning restore CA2100
                using SqliteDataReader reader = command.ExecuteReader();
                while (reader.Read())
                {
                    rows.Add(table + "|" + string.Join('|', Enumerable.Range(0, reader.FieldCount).Select(i => reader.GetValue(i) is byte[] bytes ? Convert.ToHexString(bytes) : Convert.ToString(reader.GetValue(i), CultureInfo.InvariantCulture))));
                }
            }
        }

        return rows;
    }
}
