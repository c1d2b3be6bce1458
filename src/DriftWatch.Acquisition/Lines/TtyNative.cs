using System.Runtime.InteropServices;
using System.Runtime.Versioning;

namespace DriftWatch.Acquisition.Lines;

/// <summary>
/// The Linux calls behind <see cref="TtyLink"/>. Constants and layouts are those of the generic kernel ABI
/// (asm-generic/termbits.h, ioctls.h), the same on x64 and arm64 and with any C library.
/// </summary>
[SupportedOSPlatform("linux")]
internal static partial class TtyNative
{
    public const int OpenReadWrite = 0x2;
    public const int OpenNoControllingTerminal = 0x100;
    public const int OpenNonBlocking = 0x800;
    public const int OpenCloseOnExec = 0x80000;

    public const short PollIn = 0x1;
    public const short PollOut = 0x4;
    public const short PollError = 0x8;
    public const short PollHangUp = 0x10;

    public const int EventNonBlocking = 0x800;
    public const int EventCloseOnExec = 0x80000;

    public const uint GetTermios2 = 0x802C542A;
    public const uint SetTermios2 = 0x402C542B;
    public const uint Exclusive = 0x540C;
    public const uint FlushBuffers = 0x540B;
    public const uint ModemBitsSet = 0x5416;
    public const uint ModemBitsClear = 0x5417;
    public const int ModemDtr = 0x2;
    public const int ModemRts = 0x4;
    public const int FlushBoth = 2;

    public const int LockExclusiveNoWait = 2 | 4;

    public const uint InputIgnoreBreak = 0x1;
    public const uint InputIgnoreParity = 0x4;
    public const uint InputCheckParity = 0x10;

    public const uint ControlSizeMask = 0x30;
    public const uint ControlTwoStop = 0x40;
    public const uint ControlRead = 0x80;
    public const uint ControlParity = 0x100;
    public const uint ControlOdd = 0x200;
    public const uint ControlLocal = 0x800;
    public const uint ControlOtherBaud = 0x1000;

    public const int Interrupted = 4;
    public const int Again = 11;

    /// <summary>struct termios2 of the generic kernel ABI: 44 bytes.</summary>
    [StructLayout(LayoutKind.Sequential)]
    public unsafe struct Termios2
    {
        public uint InputFlags;
        public uint OutputFlags;
        public uint ControlFlags;
        public uint LocalFlags;
        public byte Line;
        public fixed byte ControlCharacters[19];
        public uint InputSpeed;
        public uint OutputSpeed;
    }

    [StructLayout(LayoutKind.Sequential)]
    public struct PollEntry
    {
        public int Descriptor;
        public short Events;
        public short Returned;
    }

    [LibraryImport("libc", EntryPoint = "open", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static partial int Open(string path, int flags);

    [LibraryImport("libc", EntryPoint = "close", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static partial int Close(int descriptor);

    [LibraryImport("libc", EntryPoint = "read", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static unsafe partial nint Read(int descriptor, byte* buffer, nint count);

    [LibraryImport("libc", EntryPoint = "write", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static unsafe partial nint Write(int descriptor, byte* buffer, nint count);

    [LibraryImport("libc", EntryPoint = "poll", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static unsafe partial int Poll(PollEntry* entries, nuint count, int timeoutMilliseconds);

    [LibraryImport("libc", EntryPoint = "eventfd", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static partial int EventDescriptor(uint initial, int flags);

    [LibraryImport("libc", EntryPoint = "ioctl", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static unsafe partial int Control(int descriptor, nuint request, void* argument);

    [LibraryImport("libc", EntryPoint = "ioctl", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static partial int Control(int descriptor, nuint request, nint argument);

    [LibraryImport("libc", EntryPoint = "flock", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    public static partial int Lock(int descriptor, int operation);
}
