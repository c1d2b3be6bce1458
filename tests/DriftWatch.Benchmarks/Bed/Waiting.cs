using System.Diagnostics;
using System.Net;
using System.Net.Sockets;

namespace DriftWatch.Benchmarks.Bed;

internal static class Waiting
{
    public static void For(TimeSpan time)
    {
        using var never = new ManualResetEventSlim();
        never.Wait(time);
    }

    /// <exception cref="TimeoutException">It did not come true in time.</exception>
    public static void Until(Func<bool> done, TimeSpan limit, string what)
    {
        long start = Stopwatch.GetTimestamp();
        while (!done())
        {
            if (Stopwatch.GetElapsedTime(start) > limit)
            {
                throw new TimeoutException($"{what}: not within {limit.TotalSeconds:0} s");
            }

            For(TimeSpan.FromMilliseconds(20));
        }
    }

    /// <summary>A port that was free a moment ago.</summary>
    public static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }
}
