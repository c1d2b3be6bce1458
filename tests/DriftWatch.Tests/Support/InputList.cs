using DriftWatch.Measurement.Inputs;
using DriftWatch.Running;

namespace DriftWatch.Tests.Support;

/// <summary>Inputs out of memory, as a source to be judged.</summary>
internal sealed class InputList(IReadOnlyList<EngineInput> inputs) : IInputSource
{
    public int At { get; private set; }

    public Action<int>? OnRead { get; init; }

    public bool IsDisposed { get; private set; }

    public double Progress => inputs.Count == 0 ? 1 : (double)At / inputs.Count;

    public IReadOnlyList<string> Notices => [];

    public bool TryRead(out EngineInput input)
    {
        OnRead?.Invoke(At);
        bool more = At < inputs.Count;
        input = more ? inputs[At++] : default;
        return more;
    }

    public void Dispose() => IsDisposed = true;
}
