using DriftWatch.Calibrating;
using Tomlyn.Syntax;

namespace DriftWatch.Configuration;

/// <summary>A calibration sheet as the text that <see cref="CalibrationSheetFile"/> reads.</summary>
internal static class CalibrationSheetText
{
    /// <summary>What is null is left out; numbers in the shortest form that reads back to the same double.</summary>
    public static string Of(CalibrationSheet sheet)
    {
        var document = new DocumentSyntax();
        Add(
            document.KeyValues, ("tolerance", sheet.Tolerance), ("resolution", sheet.Resolution), ("degree", sheet.Degree), ("at-raw", sheet.AtRaw),
            ("origin-raw", sheet.OriginRaw), ("interval-months", sheet.IntervalMonths), ("conditions", sheet.Conditions), ("note", sheet.Note));
        if (sheet.Reference is { } reference)
        {
            var table = new TableSyntax("reference");
            Add(
                table.Items, ("name", reference.Name), ("serial", reference.Serial), ("certificate", reference.Certificate), ("unit", reference.Unit),
                ("uncertainty", reference.Uncertainty), ("coverage", reference.Coverage), ("resolution", reference.Resolution), ("due", reference.Due));
            document.Tables.Add(table);
        }

        foreach (PointSheet point in sheet.Points ?? [])
        {
            var table = new TableArraySyntax("point");
            Add(table.Items, ("nominal", point.Nominal), ("reference", point.Reference), ("direction", point.Direction), ("settled", point.Settled), ("raw", point.Raw));
            document.Tables.Add(table);
        }

        return document.ToString();
    }

    private static void Add(SyntaxList<KeyValueSyntax> to, params (string Key, object? Value)[] items)
    {
        foreach ((string key, object? value) in items)
        {
            if (value is not null)
            {
                to.Add(new KeyValueSyntax(key, ValueOf(value)) { EndOfLineToken = SyntaxFactory.NewLine() });
            }
        }
    }

    private static ValueSyntax ValueOf(object value)
    {
        switch (value)
        {
            case string text:
                return new StringValueSyntax(text);
            case bool flag:
                return new BooleanValueSyntax(flag);
            case int whole:
                return new IntegerValueSyntax(whole);
            case double number:
                return new FloatValueSyntax(number);
            default:
                var array = new ArraySyntax { OpenBracket = SyntaxFactory.Token(TokenKind.OpenBracket), CloseBracket = SyntaxFactory.Token(TokenKind.CloseBracket) };
                var numbers = (IReadOnlyList<double>)value;
                for (int i = 0; i < numbers.Count; i++)
                {
                    array.Items.Add(new ArrayItemSyntax { Value = new FloatValueSyntax(numbers[i]), Comma = i + 1 < numbers.Count ? SyntaxFactory.Token(TokenKind.Comma) : null });
                }

                return array;
        }
    }
}
