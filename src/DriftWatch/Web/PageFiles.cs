using System.Collections.Concurrent;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using Microsoft.AspNetCore.StaticFiles;
using Microsoft.Extensions.FileProviders;
using Microsoft.Extensions.Primitives;
using Microsoft.Net.Http.Headers;

namespace DriftWatch.Web;

/// <summary>
/// The page's files out of the program, each gathered and packed when it is first asked for and then kept: packing them anew each
/// time would take the processor from the browser that waits for them. Some 1 MB in all.
/// </summary>
internal sealed class PageFiles(IFileProvider files)
{
    private const string Brotli = "br";
    private const string Gzip = "gzip";

    private readonly ConcurrentDictionary<string, PageFile> _kept = new(StringComparer.Ordinal);
    private readonly FileExtensionContentTypeProvider _types = new();

    /// <summary>Answers with the file that the path names; false where there is none.</summary>
    public async Task<bool> TryAnswerAsync(HttpContext context)
    {
        if (!HttpMethods.IsGet(context.Request.Method) && !HttpMethods.IsHead(context.Request.Method))
        {
            return false;
        }

        string path = context.Request.Path.Value is { Length: > 1 } asked ? asked : "/index.html";
        if (Find(path) is not { } file)
        {
            return false;
        }

        HttpResponse response = context.Response;
        (string? packing, byte[] bytes) = file.As(context.Request.Headers.AcceptEncoding);
        var tag = new EntityTagHeaderValue($"\"{file.Tag}{(packing is null ? "" : "-" + packing)}\"");
        response.Headers.CacheControl = "no-cache"; // asked again each time, answered 304: after an update no browser mixes old modules with new ones
        response.Headers.Vary = HeaderNames.AcceptEncoding;
        response.Headers.ETag = tag.ToString();
        if (context.Request.GetTypedHeaders().IfNoneMatch.Any(known => known.Compare(tag, useStrongComparison: false)))
        {
            response.StatusCode = StatusCodes.Status304NotModified;
            return true;
        }

        response.ContentType = file.Type;
        response.Headers.ContentEncoding = packing ?? StringValues.Empty;
        response.ContentLength = bytes.Length;
        if (HttpMethods.IsGet(context.Request.Method))
        {
            await response.Body.WriteAsync(bytes, context.RequestAborted);
        }

        return true;
    }

    private PageFile? Find(string path)
    {
        if (_kept.TryGetValue(path, out PageFile? kept))
        {
            return kept;
        }

        if (!_types.TryGetContentType(path, out string? type) || Read(path[1..]) is not { } plain)
        {
            return null; // and not kept: a stranger may ask for anything
        }

        return _kept.GetOrAdd(path, new PageFile(type, plain));
    }

    private byte[]? Read(string path)
    {
        if (PageGathering.Find(path, file => Plain(file) is { } bytes ? Encoding.UTF8.GetString(bytes) : null) is { } gathered)
        {
            return Encoding.UTF8.GetBytes(gathered);
        }

        return Plain(path);
    }

    private byte[]? Plain(string path)
    {
        IFileInfo found = files.GetFileInfo(path);
        if (!found.Exists || found.IsDirectory)
        {
            return null;
        }

        using Stream stream = found.CreateReadStream();
        byte[] plain = new byte[found.Length];
        stream.ReadExactly(plain);
        return plain;
    }

    private sealed class PageFile(string type, byte[] plain)
    {
        private readonly byte[] _brotli = Pack(plain, to => new BrotliStream(to, CompressionLevel.Optimal));
        private readonly byte[] _gzip = Pack(plain, to => new GZipStream(to, CompressionLevel.Optimal));

        public string Type { get; } = type;

        public string Tag { get; } = Convert.ToHexStringLower(SHA256.HashData(plain).AsSpan(0, 8));

        /// <summary>The least that the browser can read, and the word for how it is packed.</summary>
        public (string? Packing, byte[] Bytes) As(StringValues accepted)
        {
            bool Takes(string packing) => StringWithQualityHeaderValue.TryParseList(accepted, out IList<StringWithQualityHeaderValue>? all)
                && all.Any(a => a.Value.Equals(packing, StringComparison.OrdinalIgnoreCase) && a.Quality is not 0);
            return Takes(Brotli) ? (Brotli, _brotli) : Takes(Gzip) ? (Gzip, _gzip) : (null, plain);
        }

        private static byte[] Pack(byte[] plain, Func<Stream, Stream> packer)
        {
            using var to = new MemoryStream();
            using (Stream pack = packer(to))
            {
                pack.Write(plain);
            }

            return to.ToArray();
        }
    }
}
