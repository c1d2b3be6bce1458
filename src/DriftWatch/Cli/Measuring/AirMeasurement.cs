using System.CommandLine;
using System.Globalization;
using DriftWatch.Analysis;
using DriftWatch.Analysis.Calibrating;
using DriftWatch.Analysis.Pneumatics;
using DriftWatch.Analysis.Statistics;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary><c>driftwatch measure air</c>: what a record of the air tells of regulator, venturi and water.</summary>
internal static class AirMeasurement
{
    // Of the median of a tenth of the record, gauges included. Source: common practice, no source: a tenth of a psi, half a percent of the vacuum.
    private const double AirUncertaintyPsi = 0.1;
    private const double VacuumUncertaintyShare = 0.005;

    public static Command Create()
    {
        var file = new Argument<FileInfo>("FILE") { Description = "CSV with a heading: time in s and regulated air in psi; where they were measured supply in psi, vacuum in inH2O, pressure dew point and room in °C (columns time, regulated, supply, vacuum, dew-point, room)." };
        Option<double> setpoint = MeasureInput.Number(new("setpoint", 20, 150, 50), "Regulated pressure that the vacuum is stated at, psi.");
        Option<double> atmosphere = MeasureInput.Number(new("atmosphere", 5, 20, StandardAir.PressurePsia), "Pressure of the atmosphere, psi.");
        var command = new Command(
            "air",
            "What a record of the air tells: how far the regulator follows its supply and whether it creeps, how the guide's vacuum follows the air on this bench and what it "
            + "lost besides, and the water class of the air. Take it with tape held and nothing touched, ten minutes or more.")
        {
            file, setpoint, atmosphere,
        };
        command.SetAction(parse =>
        {
            string path = parse.GetRequiredValue(file).ToString();
            var record = Record.Read(path);
            TextWriter output = parse.InvocationConfiguration.Output;
            output.WriteLine(Text($"{Path.GetFileName(path)}: {record.Seconds.Length} readings in {(record.Seconds[^1] - record.Seconds[0]) / 60:0.0} min."));
            Regulated(output, record);
            Vacuum(output, record, parse.GetValue(setpoint), parse.GetValue(atmosphere));
            Water(output, record);
            output.WriteLine();
            output.WriteLine(Cautions.Air);
            return ExitCode.Done;
        });
        return command.WithHelp(
            notSound: null,
            new HelpExample("driftwatch measure air transfer.csv", "regulator, venturi and water of one record"),
            new HelpExample("driftwatch measure air transfer.csv --setpoint 45", "on a machine that runs at 45 psi"));
    }

    private static void Regulated(TextWriter output, Record record)
    {
        output.WriteLine();
        double effect = record.Supply is { } supply ? Supply(output, record, supply) : 0;
        Answer<RegulatorCreep> creep = Regulator.Creep(record.Seconds, record.Regulated, record.Supply, effect);
        output.WriteLine(!creep.IsKnown
            ? $"Regulator's creep: can't be told, {creep.Missing}."
            : Text($"Regulator's creep: {Rounded(creep.Value.PsiPerHour):0.00} psi an hour ({Rounded(creep.Value.Lower):0.00} to {Rounded(creep.Value.Upper):0.00})")
                + (creep.Value.IsClaimed ? "; it creeps: look at its seat." : creep.Value.Upper < 0 ? "; it sinks: regulator, or a filter that clogs (measure filter tells)." : "; none can be claimed."));
    }

    /// <summary>The whole record's regression where that can be told, else the steps of its last ten minutes: a regulator that sinks meanwhile is slow noise to the one and none to the other.</summary>
    private static double Supply(TextWriter output, Record record, double[] supply)
    {
        Answer<SupplyEffect> follows = Regulator.Follows(record.Seconds, supply, record.Regulated);
        if (follows.IsKnown)
        {
            output.WriteLine(
                Text($"Regulator and supply: a psi of supply moves the regulated air by {follows.Value.PsiPerPsi:0.0000} psi ({follows.Value.Lower:0.0000} to {follows.Value.Upper:0.0000}), over {follows.Value.SupplyRangePsi:0.0} psi of supply; ")
                + (follows.Value.IsClaimed ? "it follows its supply." : "that it follows its supply can't be claimed."));
            return follows.Value.IsClaimed ? follows.Value.PsiPerPsi : 0;
        }

        var steps = new SupplyEffectTracker();
        for (int i = 0; i < supply.Length; i++)
        {
            steps.Add(record.Seconds[i], supply[i], record.Regulated[i]);
        }

        Answer<Uncertain> effect = steps.PsiPerPsi;
        output.WriteLine(!effect.IsKnown
            ? $"Regulator and supply: can't be told, {follows.Missing}."
            : Text($"Regulator and supply: a psi of supply moves the regulated air by {effect.Value.Value:0.0000} ± {effect.Value.Expanded():0.0000} psi, by steps of ten seconds; ")
                + (effect.Value.IsSignificant() ? "it follows its supply." : "that it follows its supply can't be claimed."));
        return effect.IsKnown && effect.Value.IsSignificant() ? effect.Value.Value : 0;
    }

    private static void Vacuum(TextWriter output, Record record, double setpoint, double atmosphere)
    {
        if (record.Vacuum is not { } vacuum)
        {
            return;
        }

        output.WriteLine();
        Answer<VacuumLaw> derived = VacuumLaw.Derived(setpoint, atmosphere);
        if (!derived.IsKnown)
        {
            output.WriteLine($"Vacuum: can't be told, {derived.Missing}.");
            return;
        }

        Answer<LearnedVacuumLaw> learned = LearnedVacuumLaw.Learn(record.Seconds, record.Regulated, vacuum, setpoint, atmosphere);
        VacuumLaw law = learned.IsKnown ? learned.Value.InUse : derived.Value;
        output.WriteLine(learned.IsKnown
            ? Text($"Vacuum and air: {100 * learned.Value.Law.SharePerPsi.Value:0.00} ± {100 * learned.Value.Law.SharePerPsi.Expanded():0.00} % a psi on this bench, {100 * derived.Value.SharePerPsi.Value:0.00} by choked flow; ")
                + learned.Value.Verdict switch
                {
                    LearnedVerdict.UseLearned => Text($"this bench's is used. To judge by it live, write vacuum-percent-per-psi = {100 * learned.Value.Law.SharePerPsi.Value:0.00} under [machine] of the bench file."),
                    LearnedVerdict.KeepDerived => "too unsure as yet, the derived one is used.",
                    _ => "no venturi behaves so: look at gauges and lines; the derived one is used.",
                }
            : Text($"Vacuum and air: {100 * derived.Value.SharePerPsi.Value:0.00} % a psi by choked flow; this bench's own can't be told, {learned.Missing}."));

        // The first and the last tenth of the record stand for before and now.
        int part = Math.Max(1, vacuum.Length / 10);
        double before = RobustScale.Median(vacuum.AsSpan(0, part)).Value;
        double now = RobustScale.Median(vacuum.AsSpan(vacuum.Length - part)).Value;
        if (!(before > 0))
        {
            output.WriteLine("Vacuum: there was none at the beginning.");
            return;
        }

        Answer<VacuumFallAnswer> fall = VacuumFall.Split(
            new Uncertain(before, VacuumUncertaintyShare * before),
            new Uncertain(now, VacuumUncertaintyShare * before),
            new Uncertain(RobustScale.Median(record.Regulated.AsSpan(0, part)).Value, AirUncertaintyPsi),
            new Uncertain(RobustScale.Median(record.Regulated.AsSpan(vacuum.Length - part)).Value, AirUncertaintyPsi),
            law);
        output.WriteLine(!fall.IsKnown
            ? Text($"Vacuum: {before:0.00} to {now:0.00} inH2O, no fall beyond its uncertainty.")
            : Text($"Vacuum: fell by {100 * fall.Value.FallShare.Value:0.0} % of {before:0.00} inH2O, of which the air explains {100 * fall.Value.AirShare.Value:0} ± {100 * fall.Value.AirShare.Expanded():0} %: ")
                + fall.Value.Cause switch
                {
                    VacuumFallCause.FellWithTheAir => "it fell with the air: look at the air.",
                    VacuumFallCause.FellByItself => "it fell by itself: look at tape, guide, slots and venturi.",
                    _ => "which of both can't be told.",
                });
    }

    private static void Water(TextWriter output, Record record)
    {
        if (record.DewPoint is not { } dewPoint)
        {
            return;
        }

        output.WriteLine();
        double wettest = dewPoint.Max();
        output.WriteLine(Text($"Water: {AirPurity.Designation(wettest)}, {AirPurity.Water(wettest).Says} (wettest reading {wettest:0.0} °C). {Capital(AirPurity.Particles.Says)}; {AirPurity.Oil.Says}."));
        double room = record.Room is { } celsius ? RobustScale.Median(celsius).Value : 20;
        double supply = record.Supply is { } psi ? RobustScale.Median(psi).Value : RobustScale.Median(record.Regulated).Value;
        if (wettest > HumidAir.HighestOverWaterC || RobustScale.Median(record.Regulated).Value < 0)
        {
            return;
        }

        Answer<ThroatFrostAnswer> frost = ThroatFrost.At(
            new Uncertain(wettest, ThroatFrost.DewPointUncertaintyK), Math.Max(0, supply), RobustScale.Median(record.Regulated).Value, new Uncertain(room, ThroatFrost.TemperatureUncertaintyK));
        output.WriteLine(frost.IsKnown
            ? Text($"Frost at the venturi's throat: margin {frost.Value.MarginK.Value:0.0} ± {frost.Value.MarginK.Expanded():0.0} K{(record.Room is null ? ", a room of 20 °C taken" : "")}; ")
                + (frost.Value.MarginK.Value < -frost.Value.MarginK.Expanded() ? "ice is possible." : frost.Value.MarginK.IsSignificant() ? "none is to be feared." : "can't be told.")
            : $"Frost at the venturi's throat: can't be told, {frost.Missing}.");
    }

    /// <summary>No minus before nothing.</summary>
    private static double Rounded(double value) => Math.Round(value, 2) + 0.0;

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    /// <summary>The columns of the file; those that it has not are null.</summary>
    private sealed record Record(double[] Seconds, double[] Regulated, double[]? Supply, double[]? Vacuum, double[]? DewPoint, double[]? Room)
    {
        public static Record Read(string path)
        {
            NumberTable table = NumberTable.Read(path);
            double[] seconds = table.Seconds();
            double[]? Of(double least, double greatest, params string[] names) =>
                table.OneOf(names) is { } column ? table.Column(column, least, greatest) : null;
            string regulated = table.Needed("regulated air in psi", "regulated", "regulated-psi");
            return new Record(
                seconds, Of(-14, 1000, regulated)!, Of(-14, 10000, "supply", "supply-psi"), Of(-100, 1000, "vacuum", "vacuum-inh2o"), Of(-100, 100, "dew-point", "dew-point-c"), Of(-40, 80, "room", "room-c"));
        }
    }
}
