namespace DriftWatch.Reports;

/// <summary>A file that appears only once it is whole: written beside its place, then renamed.</summary>
internal static class WholeFile
{
    public static void Write(string path, Action<FileStream> write)
    {
        string part = path + ".part";
        try
        {
            using (FileStream file = File.Create(part))
            {
                write(file);
            }

            File.Move(part, path, overwrite: true);
        }
        finally
        {
            File.Delete(part);
        }
    }
}
