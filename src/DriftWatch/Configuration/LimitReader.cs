using DriftWatch.Measurement.Benches;
using DriftWatch.Measurement.Channels;

namespace DriftWatch.Configuration;

/// <summary>
/// The limits in force on a channel: its role's defaults, of which those of a side and severity give way to any limit
/// that the bench file writes for the same side and severity.
/// </summary>
internal static class LimitReader
{
    private sealed record Placed(LimitDefinition Limit, SectionReader? Section);

    public static IReadOnlyList<LimitDefinition> Read(ChannelSection channel, List<ChannelSection> all, MachineDefinition machine)
    {
        ChannelDefinition? regulated = all.Find(c => c.Definition.Role == ChannelRole.RegulatedAir)?.Definition;
        return Read(channel, DefaultLimits.For(channel.Definition, machine.Standard, regulated));
    }

    /// <summary>The same for anything that has default limits.</summary>
    /// <param name="channel">Where it stands and what it is.</param>
    /// <param name="defaults">Its default limits.</param>
    /// <param name="sayMistakes">False where one section speaks for several and its mistakes are said already.</param>
    public static IReadOnlyList<LimitDefinition> Read(ChannelSection channel, IReadOnlyList<LimitDefinition> defaults, bool sayMistakes = true)
    {
        List<Placed> own = [.. channel.Section.Tables("limit").Select(s => new Placed(Own(s)!, s)).Where(p => p.Limit is not null)];
        string choice = channel.Section.Choice("limits") ?? "default";
        List<Placed> limits =
        [
            .. (choice == "none" ? [] : defaults).Where(d => !own.Exists(o => o.Limit.Side == d.Side && o.Limit.Severity == d.Severity)).Select(d => new Placed(d, null)),
            .. own,
        ];
        if (own.Count > 0 && channel.Definition.Kind == ChannelKind.Frame)
        {
            own[0].Section!.SayHere($"'{channel.Definition.Id}' is a frame, which has no single value to hold against a limit", "drop the limit; judgement derives skew, scallop and steps from the frame");
            return [];
        }

        if (sayMistakes)
        {
            foreach (Placed limit in own)
            {
                SayUnreachable(channel, limit);
            }

            SayCrossings(channel, limits);
        }

        return [.. limits.Select(l => l.Limit)];
    }

    private static LimitDefinition? Own(SectionReader section)
    {
        LimitSide? side = section.Choice<LimitSide>("side");
        Severity? severity = section.Choice<Severity>("severity");
        double? value = section.Number("value");
        LimitReference reference = section.Choice<LimitReference>("reference") ?? LimitReference.Absolute;
        double deadband = section.Number("deadband") ?? 0;
        TimeSpan onDelay = section.Duration("on-delay") ?? TimeSpan.Zero;
        TimeSpan offDelay = section.Duration("off-delay") ?? TimeSpan.Zero;
        IReadOnlyList<string> states = section.Words("judged-in") ?? [];
        string source = section.Text("source") ?? "bench file";
        if (side is null || severity is null || value is null)
        {
            return null;
        }

        return new LimitDefinition
        {
            Side = side.Value,
            Severity = severity.Value,
            Reference = reference,
            Value = value.Value,
            Deadband = deadband,
            OnDelay = onDelay,
            OffDelay = offDelay,
            JudgedIn = [.. states.Distinct().Select(s => Slugs.TryParse(s, out MachineState state) ? state : MachineState.Unknown)],
            Source = source,
        };
    }

    /// <summary>A limit that the baseline itself violates, or that lies on the wrong side of the setpoint or beyond what the sensor can say.</summary>
    private static void SayUnreachable(ChannelSection channel, Placed placed)
    {
        LimitDefinition limit = placed.Limit;
        double good = limit.Reference == LimitReference.BaselineFraction ? 1 : 0;
        bool low = limit.Side == LimitSide.Low;
        string side = Slugs.Of(limit.Side);
        if (limit.Reference != LimitReference.Absolute)
        {
            if (low ? limit.Value >= good : limit.Value <= good)
            {
                string what = limit.Reference == LimitReference.Baseline ? "is added to the baseline" : "multiplies the baseline";
                placed.Section!.Say(
                    "value",
                    $"a {side} limit of {SectionReader.Plain(limit.Value)} that {what} is violated by the baseline itself",
                    $"write a value {(low ? "below" : "above")} {SectionReader.Plain(good)}, or reference = \"absolute\"");
            }

            return;
        }

        if (channel.Definition.Setpoint is { } setpoint && (low ? limit.Value >= setpoint : limit.Value <= setpoint))
        {
            placed.Section!.Say(
                "value",
                $"the setpoint of {SectionReader.Plain(setpoint)} {channel.Definition.Unit} violates this {side} limit of {SectionReader.Plain(limit.Value)}",
                $"write a value {(low ? "below" : "above")} {SectionReader.Plain(setpoint)}, or side = \"{(low ? "high" : "low")}\"");
        }

        (double? least, double? greatest) = SpanOf(channel.Definition);
        if (limit.Value < least || limit.Value > greatest)
        {
            placed.Section!.Say(
                "value",
                $"a limit of {SectionReader.Plain(limit.Value)} {channel.Definition.Unit} lies beyond what the input can say ({Words(least)} to {Words(greatest)} {channel.Definition.Unit} before it is a fault)",
                "write a value inside, or set 'faults' of the channel");
        }
    }

    /// <summary>The values between the fault levels, where the calibration is monotonic.</summary>
    private static (double? Least, double? Greatest) SpanOf(ChannelDefinition channel)
    {
        double? atLow = channel.Faults.Low is { } low ? channel.Calibration.Convert(low) : null;
        double? atHigh = channel.Faults.High is { } high ? channel.Calibration.Convert(high) : null;
        return channel.Calibration.Direction switch
        {
            > 0 => (atLow, atHigh),
            < 0 => (atHigh, atLow),
            _ => (null, null),
        };
    }

    private static string Words(double? value) => value is { } v ? v.ToString("0.###", System.Globalization.CultureInfo.InvariantCulture) : "any";

    private static void SayCrossings(ChannelSection channel, List<Placed> limits)
    {
        // Each pair once; a pair of defaults can't cross, and one of the pair must have a place to say it at.
        for (int i = 0; i < limits.Count; i++)
        {
            for (int j = 0; j < limits.Count; j++)
            {
                Placed one = limits[i];
                Placed other = limits[j];
                SectionReader? at = one.Section ?? other.Section;
                if (i == j || at is null || one.Limit.Reference != other.Limit.Reference)
                {
                    continue;
                }

                if (one.Limit.Side == LimitSide.Low && other.Limit.Side == LimitSide.High)
                {
                    SayLowOverHigh(channel, at, one, other);
                }
                else if (one.Limit.Side == other.Limit.Side && one.Limit.Severity == Severity.Alarm && other.Limit.Severity == Severity.Advisory)
                {
                    SayAlarmInsideAdvisory(channel, at, one, other);
                }
            }
        }
    }

    private static void SayLowOverHigh(ChannelSection channel, SectionReader at, Placed low, Placed high)
    {
        if (low.Limit.Value >= high.Limit.Value)
        {
            at.Say("value", $"the limits of '{channel.Definition.Id}' cross: {Describe(low)} is not under {Describe(high)}", "write the low one under the high one");
        }
        else if (low.Limit.Value + low.Limit.Deadband >= high.Limit.Value || high.Limit.Value - high.Limit.Deadband <= low.Limit.Value)
        {
            // To end the one, the value would have to violate the other.
            at.Say(
                at.Has("deadband") ? "deadband" : "value",
                $"between {Describe(low)} and {Describe(high)} the deadbands leave no room to be well again",
                "write smaller deadbands");
        }
    }

    private static void SayAlarmInsideAdvisory(ChannelSection channel, SectionReader at, Placed alarm, Placed advisory)
    {
        bool inside = alarm.Limit.Side == LimitSide.Low ? alarm.Limit.Value > advisory.Limit.Value : alarm.Limit.Value < advisory.Limit.Value;
        if (inside)
        {
            string under = alarm.Limit.Side == LimitSide.Low ? "below" : "above";
            at.Say(
                "value",
                $"the limits of '{channel.Definition.Id}' cross: {Describe(alarm)} is reached before {Describe(advisory)}",
                $"write the alarm {under} the advisory; a default gives way to a limit of the same side and severity");
        }
    }

    private static string Describe(Placed placed) =>
        $"the {Slugs.Of(placed.Limit.Side)} {Slugs.Of(placed.Limit.Severity)} at {SectionReader.Plain(placed.Limit.Value)}{(placed.Section is null ? " (default)" : "")}";
}
