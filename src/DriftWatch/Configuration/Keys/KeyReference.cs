using System.Globalization;
using System.Text;
using DriftWatch.Measurement.Channels;
using DriftWatch.Measurement.Samples;
using DriftWatch.Measurement.Units;

namespace DriftWatch.Configuration.Keys;

/// <summary>Writes the reference page of every key, unit, role, fault and default limit, from the tables the reader uses.</summary>
internal static class KeyReference
{
    public static string Write()
    {
        var page = new StringBuilder();
        page.Append(
            """
            # Reference: bench files, profiles, the access file and calibration sheets

            This page is made from the tables that the program reads files by; a test keeps it in step. A bench file is
            TOML in UTF-8. `driftwatch check BENCH` reports every mistake of it at once as `file(line,col): what; remedy`,
            `driftwatch check --schema` prints the JSON Schema for editors.

            - **slug**: small letters, digits and single dashes, at most 48 characters.
            - **duration**: a number and `ms`, `s`, `min` or `h` in quotes: `"250 ms"`.
            - Numbers are finite; `nan` and `inf` are refused.
            - Profiles are looked for in the bench file's own folder, then in those named with `--profiles FOLDER`, then among those that
              come with the program; each is
              a folder of the profile's name with a `profile.toml` (instrument) or a `sensor.toml` (sensor). To change
              one, copy its folder beside the bench file.


            """.ReplaceLineEndings("\n"));
        Section(page, "Bench file", BenchKeys.Root);
        Section(page, "profile.toml: an instrument", ProfileKeys.Root);
        Section(page, "sensor.toml: a sensor", ProfileKeys.SensorRoot);
        Section(page, "Check list of a transfer", TransferKeys.CheckListRoot);
        Section(page, "Line-up of a transfer", TransferKeys.LineUpRoot);
        Section(page, "Verdict of a transfer", TransferKeys.VerdictRoot);
        Section(page, "Access file", AccessKeys.Root);
        Section(page, "Calibration sheet", SheetKeys.Root);
        Words(page);
        Defaults(page);
        Delays(page);
        Quantities(page);
        return page.ToString();
    }

    private static void Section(StringBuilder page, string title, TableDefinition root)
    {
        page.Append(CultureInfo.InvariantCulture, $"## {title}\n\n");
        foreach (TableDefinition table in root.Flatten())
        {
            page.Append(CultureInfo.InvariantCulture, $"### `{table.Header}`\n\n{table.Text}\n\n");
            page.Append("| key | what | allowed | default | example |\n|---|---|---|---|---|\n");
            foreach (KeyDefinition key in table.Keys)
            {
                string standard = key.Required ? "**required**" : key.Default is { } d ? Cell(d) : "none";
                page.Append(CultureInfo.InvariantCulture, $"| `{key.Name}` | {Cell(key.Text)} | {Cell(Allowed(key))} | {standard} | `{key.Example}` |\n");
            }

            page.Append('\n');
        }
    }

    private static string Allowed(KeyDefinition key)
    {
        string kind = key.Kind switch
        {
            KeyKind.Text => "text",
            KeyKind.Slug => "slug",
            KeyKind.Number => "number",
            KeyKind.Integer => "whole number",
            KeyKind.Flag => "true, false",
            KeyKind.Duration => "duration",
            KeyKind.Unit => "unit, see below",
            KeyKind.Choice => string.Join(", ", key.Choices),
            KeyKind.Choices => "list of " + string.Join(", ", key.Choices),
            KeyKind.Slugs => "list of slugs",
            KeyKind.Texts => "list of texts",
            KeyKind.Numbers => "list of numbers",
            KeyKind.Points => "list of pairs",
            KeyKind.Table => "table",
            _ => "list of tables",
        };
        string? range = Ranges.InWords(key);
        return range is not null ? $"{kind}, {range}" : key.Unit is not null ? $"{kind}, {key.Unit}" : kind;
    }

    private static void Words(StringBuilder page)
    {
        page.Append("## Units\n\nConversions are those of the UnitsNet library, checked against NIST SP 811. inH2O is the conventional inch of water (4 °C), inHg and mmHg the conventional ones.\n\n| quantity | symbols |\n|---|---|\n");
        foreach (IGrouping<string, Unit> quantity in Unit.All.GroupBy(u => u.Quantity, StringComparer.Ordinal))
        {
            page.Append(CultureInfo.InvariantCulture, $"| {quantity.Key} | {string.Join(", ", quantity.Select(u => $"`{u.Symbol}`"))} |\n");
        }

        page.Append("\n## Roles\n\n| role | unit | channels of a bench |\n|---|---|---|\n");
        foreach (ChannelRole role in Enum.GetValues<ChannelRole>())
        {
            page.Append(CultureInfo.InvariantCulture, $"| `{Slugs.Of(role)}` | {RoleRules.UnitsInWords(role)} | {RoleRules.CountInWords(role)} |\n");
        }

        page.Append("\n## Machine states\n\n" + string.Join(", ", Slugs.All<MachineState>().Select(s => $"`{s}`")) + ". A limit with `judged-in` is also judged while the state is unknown: ignorance hides nothing.\n");
        page.Append("\n## Faults\n\nA reading is a value or one of these; recordings write it as `!` and the word.\n\n" + string.Join(", ", FaultCodes.All.Select(s => $"`{s}`")) + ".\n");
    }

    private static void Defaults(StringBuilder page)
    {
        page.Append("\n## Default limits\n\nThey hold unless the channel writes `limits = \"none\"`, or a `[[channel.limit]]` of the same side and severity.\n\n");
        page.Append("| role | side | severity | limit | deadband | after | judged in | source |\n|---|---|---|---|---|---|---|---|\n");
        foreach (DefaultLimit row in DefaultLimits.Table)
        {
            string value = row.Value.ToString("0.####", CultureInfo.InvariantCulture);
            string unit = row.Unit.Length > 0 ? " " + row.Unit : "";
            string limit = row.Basis switch
            {
                LimitBasis.OfSetpoint => $"{value} of the setpoint",
                LimitBasis.AboveRegulated => $"setpoint of the regulated air + {value}{unit}",
                LimitBasis.Baseline => $"baseline {(row.Value < 0 ? "" : "+")}{value}{unit}",
                LimitBasis.BaselineFraction => $"{value} of the baseline",
                _ => value + unit,
            };
            string share = row.Basis is LimitBasis.OfSetpoint ? " of the setpoint" : row.Basis is LimitBasis.BaselineFraction ? " of the baseline" : unit;
            string standard = row.Standard is null ? "" : $" ({row.Standard})";
            string states = row.JudgedIn.Count == 0 ? "all states" : string.Join(", ", row.JudgedIn.Select(s => Slugs.Of(s)));
            page.Append(CultureInfo.InvariantCulture, $"| `{Slugs.Of(row.Role)}`{standard} | {Slugs.Of(row.Side)} | {Slugs.Of(row.Severity)} | {limit} | {row.Deadband:0.####}{share} | {DurationText.Write(TimeSpan.FromSeconds(row.OnDelaySeconds))} | {states} | {row.Source} |\n");
        }
    }

    private static void Delays(StringBuilder page)
    {
        page.Append("\n## Where deadbands and delays come from\n\n");
        page.Append("What ANSI/ISA-18.2 is said to start from (from memory; its text was not readable here): a deadband of 5 % of range for flow and level, 2 % for pressure, 1 % for temperature; delays of 15 s for flow and pressure, 60 s for level and temperature. It is taken where the quantity allows it.\n\n");
        page.Append("| of | deadband and delay follow | source |\n|---|---|---|\n");
        foreach (DefaultDelay row in DefaultDelays.Table)
        {
            page.Append(CultureInfo.InvariantCulture, $"| {string.Join(", ", row.Subjects.Select(s => $"`{s}`"))} | {row.Follows} | {row.Source} |\n");
        }

        page.Append("\nA limit comes off without a delay unless it writes `off-delay`; an alarm ends a minute after the last of its findings (common practice, no source), so that a value at its limit does not call again and again.\n");
        page.Append("\nData is stale after 5 s, an advisory, and after 10 s, an alarm; slower channels after 3 and 6 of their periods (all common practice, no source).\n");
    }

    private static void Quantities(StringBuilder page)
    {
        page.Append("\n## Derived quantities\n\nJudgement works these out from the channels and treats them like one: they stand in findings by these names.\n\n");
        page.Append("| quantity | unit | what | needs |\n|---|---|---|---|\n");
        foreach (QuantityRow row in DefaultQuantities.Table)
        {
            page.Append(CultureInfo.InvariantCulture, $"| `{Slugs.Of(row.Kind)}{(row.IsPerHead ? "-1` … `-4" : "")}` | {row.Unit} | {row.Meaning} | {row.Needs} |\n");
        }

        page.Append("\nTheir default limits hold unless a `[[quantity]]` of the bench file writes `limits = \"none\"` or a limit of the same side and severity.\n\n");
        page.Append("| quantity | side | severity | limit | deadband | after | judged in | source |\n|---|---|---|---|---|---|---|---|\n");
        foreach (QuantityRow row in DefaultQuantities.Table)
        {
            string states = row.JudgedIn.Count == 0 ? "all states" : string.Join(", ", row.JudgedIn.Select(s => Slugs.Of(s)));
            foreach (QuantityLimit limit in row.Limits)
            {
                string value = limit.Value.ToString("0.####", CultureInfo.InvariantCulture);
                string words = limit.Reference switch
                {
                    LimitReference.Baseline => $"baseline {(limit.Value < 0 ? "" : "+")}{value} {row.Unit}",
                    LimitReference.BaselineFraction => $"{value} of the baseline",
                    _ => $"{value} {row.Unit}",
                };
                string share = limit.Reference == LimitReference.BaselineFraction ? " of the baseline" : " " + row.Unit;
                page.Append(CultureInfo.InvariantCulture, $"| `{Slugs.Of(row.Kind)}` | {Slugs.Of(limit.Side)} | {Slugs.Of(limit.Severity)} | {words} | {limit.Deadband:0.####}{share} | {DurationText.Write(TimeSpan.FromSeconds(limit.OnDelaySeconds))} | {states} | {limit.Source} |\n");
            }
        }
    }

    private static string Cell(string text) => text.Replace("|", "\\|", StringComparison.Ordinal);
}
