using DriftWatch.Measurement.Time;
using DriftWatch.Measurement.Transfers;
using DriftWatch.Running;
using DriftWatch.Transfers;
using DriftWatch.Watch.Transfers;

namespace DriftWatch.Web.Api.Transfers;

/// <summary>
/// A step of the line-up as it reads now: <c>Value</c> in <c>Unit</c>, null where <c>Why</c> says why not; <c>ReadBy</c> is null where a
/// person reads it off.
/// </summary>
internal sealed record StepNowAnswer(string Step, string? ReadBy, string? Label, double? Value, string? Unit, string? At, string? Why)
{
    /// <summary>What is told is kept for an hour, so that it need not be sent back as a value.</summary>
    public static StepNowAnswer Of(IBenchView view, LineUpStepDefinition step, ToldReadings told)
    {
        var now = PresentReading.Of(view, step);
        told.Add(step.Key, now);
        return new StepNowAnswer(step.Key, now.By, now.Label, now.Value, step.Unit, now.AtUtc is { } at ? UtcText.FromNanoseconds(at) : null, now.Why);
    }
}

/// <summary>Every step as it reads now, and what the head wheel says of the tape's standard; null where no pass is being prepared.</summary>
internal sealed record LineUpNowAnswer(string Bench, ProofAnswer? Standard, StepNowAnswer[] Items)
{
    public static LineUpNowAnswer Of(string bench, IBenchView view, TransferDesk desk) => new(
        bench, ProofAnswer.Of(PresentStandard.Of(view, desk.Book)), [.. desk.Procedures.LineUp.Steps.Select(s => StepNowAnswer.Of(view, s, desk.Told))]);
}

/// <summary>What readings say of an item now, before anybody signs it; <c>Telemetry</c> is null where the item asks for no proof.</summary>
internal sealed record CheckNowAnswer(string Check, ProofAnswer? Telemetry);

internal sealed record ChecksNowAnswer(string Bench, CheckNowAnswer[] Items)
{
    public static ChecksNowAnswer Of(string bench, TransferDesk desk)
    {
        CheckList checks = desk.Procedures.Checks;
        ProofReadings readings = desk.Telemetry().Readings(desk.NowUtc, desk.Book, checks);
        return new ChecksNowAnswer(bench, [.. checks.Items.Select(i => new CheckNowAnswer(i.Key, ProofAnswer.Of(CheckProofs.Of(i, null, readings))))]);
    }
}
