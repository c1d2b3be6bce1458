namespace DriftWatch.Analysis;

/// <summary>
/// Takes down or fills in the state of something that runs reading by reading, field by field and in order, so that whoever keeps snapshots can keep its
/// state without knowing it: the same code writes and reads.
/// </summary>
public interface IStateFields
{
    void Sync(ref double value);

    void Sync(ref long value);

    void Sync(ref int value);

    void Sync(ref bool value);
}
