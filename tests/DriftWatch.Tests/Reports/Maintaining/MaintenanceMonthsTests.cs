using DriftWatch.Calibrating;
using DriftWatch.Cli;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Maintaining;
using DriftWatch.Running;
using DriftWatch.Tests.Cli;
using DriftWatch.Tests.Recordings;
using DriftWatch.Tests.Web;
using DriftWatch.Transfers;
using DriftWatch.Web.Api;
using MathNet.Numerics.Statistics;

namespace DriftWatch.Tests.Reports.Maintaining;

/// <summary>The store of sixteen weeks, made once.</summary>
public sealed class MonthsOfPractice : IDisposable
{
    private readonly RecordingFolder _folder = new();

    public MonthsOfPractice()
    {
        Store = _folder.PathOf("practice");
        PracticeMonths.Make(Store);
        Record = MaintenanceReader.Read(Store, UtcText.ToNanoseconds(PracticeMonths.Begin.AddDays(-1)), UtcText.ToNanoseconds(PracticeMonths.End));
    }

    public string Store { get; }

    internal MaintenanceRecord Record { get; }

    public void Dispose() => _folder.Dispose();
}

/// <summary>Months that were stored and judged as a live bench's are, against how rig, people and sheets were made.</summary>
public sealed class MaintenanceMonthsTests(MonthsOfPractice months) : IClassFixture<MonthsOfPractice>
{
    /// <summary>Of a mil at 240 rev/s. Source: the geometry that the rig's page tells (`device-profiles/practice-rig/README.md`).</summary>
    private const double SkewNsPerMil = -907.4;

    private const double SagittaNsPerMil = 187.9;

    private MaintenanceRecord Record => months.Record;

    [Fact]
    public void Hours_are_those_that_were_watched_though_calibrations_were_entered_before_weeks_of_silence()
    {
        Assert.Equal(PracticeMonths.Weeks * 450 / 3600.0, Record.WatchedHours, 0.01);
        Assert.InRange(Record.TapeHours, PracticeMonths.Weeks * 415 / 3600.0, PracticeMonths.Weeks * 428 / 3600.0); // from 0:12 to 7:15, less the state's delay
        Assert.Equal(PracticeMonths.Weeks, Record.Hours.Readings.Count);
        Assert.Equal(PracticeMonths.HoursAWeek, Record.Hours.PerWeek!.Value, 1e-9);
        Assert.Equal(PracticeMonths.FirstHours + (15 * PracticeMonths.HoursAWeek), Record.Hours.Readings[^1].Hours, 1e-9);
        Assert.InRange(Record.Hours.RanSince!.Value, 415 / 3600.0, 428 / 3600.0);
    }

    [Fact]
    public void The_head_that_wears_is_told_apart_from_those_that_do_not()
    {
        double perMonth = -PracticeMonths.WearDb * 365.25 / 12 / 7;
        foreach (HeadAgainstOthers head in Record.Against)
        {
            (double slope, double low, double high) = head.Trend.Value.DbPerMonth();
            Assert.Equal(PracticeMonths.Weeks, head.Trend.Value.Baselines);
            Assert.InRange(head.Head == 2 ? perMonth : 0, low, high);
            Assert.Equal(head.Head == 2, high < 0);
            Assert.DoesNotContain("one step", MaintenanceWords.Against(head.Trend), StringComparison.Ordinal); // of what may be nothing no step is told
            Assert.Equal(PracticeMonths.Weeks, Record.Heads.Single(h => h.Head == head.Head).Points.Count);
        }
    }

    [Fact]
    public void Each_tape_s_geometry_is_the_one_it_was_given()
    {
        Assert.Equal(Enumerable.Range(0, PracticeMonths.Weeks).Select(PracticeMonths.Identifier), Record.Tapes.Select(t => t.Tape));
        double[] skew = [.. Weeks(w => SkewNsPerMil * (PracticeMonths.Machine.Timing.PenetrationMil - PracticeMonths.TapeOf(w).PenetrationMil))];
        double hold = 1 - PracticeMonths.Machine.GuideDirt; // tape that is held less flattens the scallop
        double[] sagitta = [.. Weeks(w => hold * SagittaNsPerMil * (PracticeMonths.Machine.Timing.HeightMil - PracticeMonths.TapeOf(w).HeightMil))];
        Held("skew", skew);
        Held("scallop", sagitta);
        Assert.All(Record.Tapes, t => Assert.Equal("guide-height", Assert.Single(t.Steps).Step));

        // Between heads nothing differs from tape to tape: the spread is what one value is known to.
        Assert.Empty(Record.StandingOut.Value); // one machine recorded them all
        GeometrySpread step = Record.Spread.Single(s => s.Id == "head-step-2");
        Assert.InRange(step.BetweenTapes.Value / step.OfOne!.Value, 0.6, 1.5);
    }

    /// <summary>Drawn-in heads and waves of the wheel add the same to every tape, so differences are held, each to four of its standard errors.</summary>
    private void Held(string id, double[] made)
    {
        GeometryValue[] told = [.. Record.Tapes.Select(t => t.Values.Single(v => v.Id == id))];
        (double meanTold, double meanMade) = (told.Average(t => t.Value), made.Average());
        Assert.All(told.Zip(made), p => Assert.Equal(p.Second - meanMade, p.First.Value - meanTold, 4 * p.First.StandardError!.Value));
        GeometrySpread spread = Record.Spread.Single(s => s.Id == id);
        Assert.Equal(PracticeMonths.Weeks, spread.Tapes);
        Assert.Equal(made.StandardDeviation(), spread.BetweenTapes.Value, 0.05 * made.StandardDeviation());
        Assert.Equal(Math.Sqrt(told.Average(t => t.StandardError!.Value * t.StandardError.Value)), spread.OfOne!.Value, 1e-9);
    }

    [Fact]
    public void Each_calibration_tells_what_moved_since_the_one_before_with_the_uncertainty_of_both_lines()
    {
        foreach ((string label, Func<int, CalibrationSheet> sheet, double moved) in new (string, Func<int, CalibrationSheet>, double)[]
            {
                ("Regulated air", PracticeMonths.AirSheet, -PracticeMonths.GaugePsi), ("Guide vacuum", PracticeMonths.VacuumSheet, 25 - 25.25),
            })
        {
            CalibrationMove[] told = [.. Record.Calibrations.Where(c => c.Channel == label)];
            Assert.Equal([2, 3, 4], told.Select(c => c.Version));
            Assert.Equal([null, 42.0, 49.0], told.Select(c => c.Days)); // weeks 1, 7 and 14
            Assert.False(told[0].IsSignificant);
            Assert.Null(told[0].PerYear);
            for (int i = 1; i < told.Length; i++)
            {
                (Line before, Line after) = (new Line(sheet(i - 1)), new Line(sheet(i)));
                double raw = after.Raw(told[i].At);
                Assert.Equal(after.At(raw) - before.At(raw), told[i].Difference, 1e-6);
                Assert.Equal(Math.Sqrt((after.Error(raw) * after.Error(raw)) + (before.Error(raw) * before.Error(raw))), told[i].Uncertainty, 1e-6);
                Assert.Equal(told[i].Difference * 365.25 / told[i].Days!.Value, told[i].PerYear!.Value, 1e-9);
            }

            Assert.True(told[2].IsSignificant);
            Assert.Equal(moved, told[2].Difference, 3 * told[2].Uncertainty);
        }

        Assert.Equal("2026-06-09", Record.Calibrations[0].Due); // three months after 9 March
    }

    [Fact]
    public void Sags_and_alarms_are_those_that_were_played()
    {
        Assert.Equal(2, Record.Sags.Count);
        Assert.Equal(4, Record.Sags.DeepestPsi!.Value, 0.3);
        Assert.InRange(Record.Sags.LongestSeconds!.Value, 19, 24);
        Assert.Contains(Record.Causes, c => c is { Cause: "regulator-sag", Count: 2 });
        Assert.Contains(Record.Causes, c => c is { Cause: "head-clogged", Count: 1 });
        Assert.True(Record.Alarms.Calls >= 3, $"{Record.Alarms.Calls} calls");
        Assert.Equal(PracticeMonths.Weeks, Record.Air.Days.Count);
    }

    [Fact]
    public async Task The_command_writes_a_month_of_it_with_no_more_figures_than_are_known()
    {
        (int code, string said, string error) = await CommandLineTests.RunAsync("maintenance", months.Store, "--month", "2026-05");
        Assert.True(code == ExitCode.Done, error);
        string[] tapes = [.. Weeks(PracticeMonths.Identifier).Where(t => said.Contains(t, StringComparison.Ordinal))];
        Assert.Equal(["MC-0209", "MC-0210", "MC-0211", "MC-0212", "MC-0213"], tapes); // Mondays of May, and the meter as it was read before
        Assert.Contains("Past its limit of 500 h", said, StringComparison.Ordinal);
        GeometryValue skew = Record.Tapes[10].Values.Single(v => v.Id == "skew");
        Assert.Contains(FormattableString.Invariant($"{skew.Value:0.00} ± {skew.StandardError:0.00}").Replace('-', '−'), said, StringComparison.Ordinal);

        // All of it as a person gets it, to be looked at where that is wanted.
        string folder = Environment.GetEnvironmentVariable("DRIFTWATCH_SCREENSHOTS") ?? Path.GetDirectoryName(months.Store)!;
        (code, _, error) = await CommandLineTests.RunAsync("maintenance", months.Store, "--from", "2026-03-01", "--to", "2026-06-16", "--out", Path.Combine(folder, "months.pdf"));
        Assert.True(code == ExitCode.Done, error);
        Assert.Equal("%PDF"u8.ToArray(), (await File.ReadAllBytesAsync(Path.Combine(folder, "months.pdf")))[..4]);
    }

    [Fact]
    public async Task A_second_look_at_months_reads_nothing_until_something_was_entered_or_ten_minutes_are_over()
    {
        using var view = new StoredView(months.Store);
        var kept = new KeptMaintenance();
        long to = UtcText.ToNanoseconds(PracticeMonths.End);
        const long minute = 60_000_000_000;
        MaintenanceAnswer once = Look(0);
        Assert.Same(once, Look(9.9));
        Assert.NotSame(once, Look(10.1));
        MaintenanceAnswer newer = Look(10.2);
        Assert.Same(newer, Look(10.3));
        await Assert.ThrowsAsync<IOException>(() => ((IBenchView)view).Transfers!.EnterAsync(new EntryRequest { Kind = "note", Shift = true, Note = "It is held while the disk is full." }, "Ida", "declared"));
        Assert.NotSame(newer, Look(10.4));
        Assert.NotSame(Look(10.4), kept.Of(view, months.Store, to - (31 * 1440 * minute), to)); // another span

        MaintenanceAnswer Look(double minutes) => kept.Of(view, months.Store, to - (92 * 1440 * minute) + (long)(minutes * minute), to + (long)(minutes * minute));
    }

    private static IEnumerable<T> Weeks<T>(Func<int, T> of) => Enumerable.Range(0, PracticeMonths.Weeks).Select(of);

    /// <summary>The line through a sheet's points by the text-book's formulae, the reference's own error left out.</summary>
    private sealed class Line
    {
        private readonly double _slope, _meanRaw, _meanReference, _spread, _scatter;
        private readonly int _count;

        public Line(CalibrationSheet sheet)
        {
            double[] raw = [.. sheet.Points!.Select(p => p.Raw!.Average())];
            double[] reference = [.. sheet.Points!.Select(p => p.Reference!.Value)];
            (_count, _meanRaw, _meanReference) = (raw.Length, raw.Average(), reference.Average());
            _spread = raw.Sum(x => (x - _meanRaw) * (x - _meanRaw));
            _slope = raw.Zip(reference).Sum(p => (p.First - _meanRaw) * (p.Second - _meanReference)) / _spread;
            _scatter = Math.Sqrt(raw.Zip(reference).Sum(p => Math.Pow(p.Second - At(p.First), 2)) / (_count - 2));
        }

        public double At(double raw) => _meanReference + (_slope * (raw - _meanRaw));

        public double Raw(double value) => _meanRaw + ((value - _meanReference) / _slope);

        public double Error(double raw) => _scatter * Math.Sqrt((1.0 / _count) + ((raw - _meanRaw) * (raw - _meanRaw) / _spread));
    }
}
