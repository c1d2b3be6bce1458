namespace DriftWatch.Storage;

/// <summary>What kind of trouble the store has; the service decides by it whether to retry, to stop or to ask a person.</summary>
public enum StoreTrouble
{
    /// <summary>No room: the batch was not stored and may be given again once there is room.</summary>
    DiskFull,

    /// <summary>A file's content is not what was written.</summary>
    Damaged,

    /// <summary>Another process writes to this folder.</summary>
    InUse,

    /// <summary>A file was written by a newer version of this program.</summary>
    NewerSchema,

    /// <summary>The folder or a file can't be opened or written: permission, a read-only disk, a failing device.</summary>
    Unreachable,
}

/// <summary>The store could not do what was asked; nothing half done is left behind.</summary>
public sealed class StoreException : Exception
{
    public StoreException(StoreTrouble trouble, string message, Exception? inner = null)
        : base(message, inner) => Trouble = trouble;

    public StoreTrouble Trouble { get; }

    internal static StoreException Damaged(string what, Exception? inner = null) =>
        new(StoreTrouble.Damaged, what, inner);
}
