using System.Globalization;

namespace DriftWatch.Storage;

/// <summary>Held for as long as a process writes to a bench folder; the kernel lets it go when the process dies.</summary>
internal sealed class WriterLock : IDisposable
{
    private const string LockName = "writer.lock";
    private const string PidName = "writer.pid";

    // Within one process some kernels' file locks don't exclude; two stores on one folder must not meet there either.
    private static readonly HashSet<string> HeldHere = new(StringComparer.Ordinal);

    private readonly string _folder;
    private readonly FileStream _lock;

    private WriterLock(string folder, FileStream held)
    {
        _folder = folder;
        _lock = held;
    }

    public static WriterLock Take(string folder)
    {
        folder = Path.GetFullPath(folder);
        lock (HeldHere)
        {
            if (HeldHere.Contains(folder))
            {
                throw InUse(folder);
            }

            FileStream held;
            try
            {
                held = new FileStream(Path.Combine(folder, LockName), FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None);
            }
            catch (UnauthorizedAccessException exception)
            {
                throw new StoreException(
                    StoreTrouble.Unreachable, $"No right to write in {folder}. Check the folder's owner and rights.", exception);
            }
            catch (IOException exception)
            {
                throw InUse(folder, exception);
            }

            HeldHere.Add(folder);
            File.WriteAllText(Path.Combine(folder, PidName), Environment.ProcessId.ToString(CultureInfo.InvariantCulture));
            return new WriterLock(folder, held);
        }
    }

    public void Dispose()
    {
        lock (HeldHere)
        {
            _lock.Dispose();
            HeldHere.Remove(_folder);
        }
    }

    private static StoreException InUse(string folder, Exception? inner = null)
    {
        string pid = "unknown";
        try
        {
            pid = File.ReadAllText(Path.Combine(folder, PidName)).Trim();
        }
        catch (IOException)
        {
            // The other process has not written it yet.
        }

        return new StoreException(
            StoreTrouble.InUse,
            $"{folder} is already written by the process with pid {pid}. One bench folder has one writer: stop that process, or choose another folder.",
            inner);
    }
}
