using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using DriftWatch.Benchmarks.Bed;

namespace DriftWatch.Benchmarks.Servers;

/// <summary>A time-series server from Debian on a loopback port, with a folder that is gone afterwards.</summary>
internal abstract class ServerPeer : IDisposable
{
    private static readonly TimeSpan StartLimit = TimeSpan.FromSeconds(30);

    private readonly HttpClient _http = new() { Timeout = TimeSpan.FromMinutes(2) };

    protected ServerPeer(string name, string program, string package)
    {
        Name = name;
        Program = program;
        if (!File.Exists(program))
        {
            throw new InvalidOperationException($"{program} is missing: apt-get install {package} (and leave its own service stopped).");
        }
    }

    public string Name { get; }

    /// <summary>Bytes on disk after <see cref="Settle"/>.</summary>
    public abstract long Size { get; }

    /// <summary>What <see cref="Size"/> leaves out, in words; empty when nothing.</summary>
    public virtual string SizeNote => "";

    public TimeSpan Processor => Process!.Processor;

    public long Resident => Process!.Resident;

    public Uri Url => At("");

    protected string Program { get; }

    protected TempFolder Folder { get; } = new();

    protected int Port { get; } = Waiting.FreePort();

    protected ChildProcess? Process { get; set; }

    protected Uri At(string path) => new($"http://127.0.0.1:{Port}{path}");

    /// <summary>Posts one gzip body of line protocol.</summary>
    public async Task WriteAsync(byte[] body)
    {
        using var content = new ByteArrayContent(body);
        content.Headers.ContentEncoding.Add("gzip");
        content.Headers.ContentType = new MediaTypeHeaderValue("text/plain");
        using HttpResponseMessage answer = await _http.PostAsync(At("/write?db=bench&precision=ms"), content);
        if (answer.StatusCode != HttpStatusCode.NoContent)
        {
            throw new InvalidOperationException($"{Name}: {(int)answer.StatusCode} {await answer.Content.ReadAsStringAsync()}");
        }
    }

    /// <summary>Makes what was written readable.</summary>
    public abstract void Flush();

    /// <summary>How many values the server says it holds.</summary>
    public abstract long Count(DateTimeOffset from, DateTimeOffset to);

    /// <summary>Minimum, maximum and mean of one field in steps, as the server's own text.</summary>
    public abstract string Buckets(string field, DateTimeOffset from, DateTimeOffset to, TimeSpan step);

    /// <summary>The number of buckets in an answer.</summary>
    public abstract int CountBuckets(string answer);

    /// <summary>Lets the server bring its files to their lasting form, and stops it.</summary>
    public abstract void Settle();

    public void Dispose()
    {
        Process?.Dispose();
        _http.Dispose();
        Folder.Dispose();
    }

    protected string Get(string path) => _http.GetStringAsync(At(path)).GetAwaiter().GetResult();

    protected void Post(string path)
    {
        using HttpResponseMessage answer = _http.PostAsync(At(path), content: null).GetAwaiter().GetResult();
        answer.EnsureSuccessStatusCode();
    }

    protected void WaitUntilUp(string path) => Waiting.Until(
        () =>
        {
            if (Process!.HasEnded)
            {
                throw new InvalidOperationException($"{Name} ended: {Process.Said}");
            }

            try
            {
                Get(path);
                return true;
            }
            catch (HttpRequestException)
            {
                return false;
            }
        },
        StartLimit,
        $"{Name} to answer");

    protected static string Milliseconds(DateTimeOffset time) => time.ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture);

    protected static string Seconds(DateTimeOffset time) =>
        (time.ToUnixTimeMilliseconds() / 1000.0).ToString("0.000", CultureInfo.InvariantCulture);
}
