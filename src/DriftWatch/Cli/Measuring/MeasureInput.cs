using System.CommandLine;
using DriftWatch.Measuring;

namespace DriftWatch.Cli.Measuring;

/// <summary>The fields of measurements as options of the command line.</summary>
internal static class MeasureInput
{
    /// <summary>A number within bounds, with its standard as default.</summary>
    public static Option<double> Number(NumberField field, string what)
    {
        var option = new Option<double>("--" + field.Name) { Description = what };
        if (field.Standard is { } standard and not 0)
        {
            option.DefaultValueFactory = _ => standard;
        }

        option.Validators.Add(result => Check(field, result.GetValueOrDefault<double>(), result.AddError));
        return option;
    }

    /// <summary>A number within bounds, or nothing.</summary>
    public static Option<double?> Optional(NumberField field, string what)
    {
        var option = new Option<double?>("--" + field.Name) { Description = what };
        option.Validators.Add(result => Check(field, result.GetValueOrDefault<double?>(), result.AddError));
        return option;
    }

    /// <summary>One of a few words; it must be given where it has no standard.</summary>
    public static Option<string> Choice<T>(ChoiceField<T> field, string what)
    {
        var option = new Option<string>("--" + field.Name) { Description = what, Required = field.Standard is null };
        if (field.Standard is { } standard)
        {
            option.DefaultValueFactory = _ => standard;
        }

        option.AcceptOnlyFromAmong(field.Words);
        return option;
    }

    private static void Check(NumberField field, double? value, Action<string> error)
    {
        if (value is { } number && !field.Allows(number))
        {
            error($"--{field.Name} takes {field.Allowed}.");
        }
    }
}
