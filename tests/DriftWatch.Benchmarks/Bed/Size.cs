namespace DriftWatch.Benchmarks.Bed;

/// <summary>How much a benchmark takes on.</summary>
public enum Size
{
    /// <summary>What the figures in DEVELOPERS.md are made with.</summary>
    Full,

    /// <summary>Just enough to show that the benchmark still runs; its figures say nothing.</summary>
    Smoke,
}
