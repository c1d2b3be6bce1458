namespace DriftWatch.Watch.Quantities;

/// <summary>What a derived quantity is at present, in the unit of its definition; null where it can't be told: its channels are silent, or it means nothing in this state.</summary>
public readonly record struct QuantityNow(string Id, double? Value);
