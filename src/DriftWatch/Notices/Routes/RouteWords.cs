using System.ComponentModel;
using System.Net.Sockets;
using MailKit;
using MailKit.Net.Smtp;
using MailKit.Security;
using MQTTnet.Adapter;
using MQTTnet.Exceptions;

namespace DriftWatch.Notices.Routes;

/// <summary>What a failure of the network means, in words, with what to do about it.</summary>
internal static class RouteWords
{
    public static RouteAnswer Of(Exception exception, CertificateJudge? certificate = null)
    {
        // A complaint may be of an earlier try: one that got no answer in time, or reached nobody, says nothing of a certificate.
        if (certificate?.Complaint is { } complaint && !IsSocket(exception) && exception is not (OperationCanceledException or TimeoutException))
        {
            return new RouteAnswer(false, complaint) { Remedy = "renew the certificate, set this computer's clock, name the host it is made for, or name its issuer's file as trust-file" };
        }

        return exception switch
        {
            SecretException secret => new RouteAnswer(false, secret.Message) { Remedy = secret.Remedy },
            OperationCanceledException or TimeoutException => new RouteAnswer(false, "no answer in time") { Remedy = "look whether the host is up and the port is the right one" },
            System.Security.Authentication.AuthenticationException or MailKit.Security.AuthenticationException => new RouteAnswer(false, $"it refuses the user or the password: {Line(exception)}") { Remedy = "look at user and password" },
            SslHandshakeException => new RouteAnswer(false, "no TLS on this port, or none that both sides know") { Remedy = "look at port and security: 587 is usual for starttls, 465 for tls" },
            SmtpCommandException { ErrorCode: SmtpErrorCode.RecipientNotAccepted } command => new RouteAnswer(false, $"it takes no letters for {command.Mailbox?.Address}: {Line(command)}") { Remedy = "look at 'to'", Refused = (int)command.StatusCode >= 500 },
            SmtpCommandException { ErrorCode: SmtpErrorCode.SenderNotAccepted } command => new RouteAnswer(false, $"it takes no letters from {command.Mailbox?.Address}: {Line(command)}") { Remedy = "look at 'from', user and password" },
            SmtpCommandException command => new RouteAnswer(false, $"it answered {(int)command.StatusCode}: {Line(command)}") { Refused = command.ErrorCode == SmtpErrorCode.MessageNotAccepted && (int)command.StatusCode >= 500 },
            NotSupportedException => new RouteAnswer(false, $"the server can't do what is asked: {Line(exception)}") { Remedy = "look at security, and whether this port takes a user and a password" },
            ProtocolException => new RouteAnswer(false, $"what answers speaks no such protocol: {Line(exception)}") { Remedy = "look at host and port" },
            BrokerRefusedException or MqttConnectingFailedException => new RouteAnswer(false, $"the broker refuses the connection: {Line(exception)}") { Remedy = "look at user and password, and at what the broker allows" },
            MqttCommunicationException or HttpRequestException or IOException when Socket(exception) is { } socket => Of(socket),
            MqttCommunicationException => new RouteAnswer(false, $"the broker went away: {Line(exception)}") { Remedy = "look at host, port and tls" },
            SocketException socket => Of(socket),
            Win32Exception => new RouteAnswer(false, Line(exception)),
            _ => new RouteAnswer(false, Line(exception)),
        };
    }

    /// <summary>Of an exception the first line that says something.</summary>
    public static string Line(Exception exception) => exception.Message.ReplaceLineEndings(" ").TrimEnd('.', ' ');

    private static bool IsSocket(Exception exception) => Socket(exception) is not null;

    private static RouteAnswer Of(SocketException socket) => socket.SocketErrorCode switch
    {
        SocketError.HostNotFound or SocketError.TryAgain or SocketError.NoData => new RouteAnswer(false, "the name of the host is not known") { Remedy = "look at the host's name and at the network" },
        SocketError.ConnectionRefused => new RouteAnswer(false, "nobody listens there") { Remedy = "look at host and port, and whether the server runs" },
        _ => new RouteAnswer(false, Line(socket)) { Remedy = "look at the network" },
    };

    private static SocketException? Socket(Exception? exception)
    {
        for (; exception is not null; exception = exception.InnerException)
        {
            if (exception is SocketException socket)
            {
                return socket;
            }
        }

        return null;
    }
}
