using System.Globalization;
using MailKit.Net.Smtp;
using MailKit.Security;
using MimeKit;

namespace DriftWatch.Notices.Routes;

/// <summary>
/// E-mail by SMTP (RFC 5321), one letter a notice. A letter sent twice has the same Message-ID, and many mailboxes show
/// it once; SMTP itself has no way to ask whether the first came through.
/// </summary>
internal sealed class MailRoute(MailSettings settings, TimeProvider time) : INoticeRoute
{
    /// <summary>Tries after which an address that is only refused for now is left out, so that one full mailbox doesn't keep the letter from all.</summary>
    private const int PatientTries = 3;

    public async Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel)
    {
        var judge = new CertificateJudge(settings.TrustFile, time);
        using var client = new Client(tries > PatientTries);
        try
        {
            await ConnectAsync(client, judge, cancel);
            string said = await client.SendAsync(Letter(notice), cancel);
            await client.DisconnectAsync(true, cancel);
            return new RouteAnswer(true, client.LeftOut.Count == 0 ? OneLine(said) : $"{OneLine(said)}; not to {string.Join(", ", client.LeftOut)}");
        }
        catch (Exception exception) when (exception is not OperationCanceledException || !cancel.IsCancellationRequested)
        {
            return RouteWords.Of(exception, judge);
        }
    }

    public async Task<RouteAnswer> CheckAsync(CancellationToken cancel)
    {
        var judge = new CertificateJudge(settings.TrustFile, time);
        using var client = new Client(false);
        try
        {
            await ConnectAsync(client, judge, cancel);
            await client.NoOpAsync(cancel);
            await client.DisconnectAsync(true, cancel);
            return new RouteAnswer(judge.Warning.Length == 0, $"the server takes us{(settings.User is null ? "" : " with user and password")}{judge.Warning}");
        }
        catch (Exception exception) when (exception is not OperationCanceledException || !cancel.IsCancellationRequested)
        {
            return RouteWords.Of(exception, judge);
        }
    }

    public ValueTask DisposeAsync() => ValueTask.CompletedTask;

    /// <summary>The letter; its date is that of the alarm, so that it is the same each time.</summary>
    internal MimeMessage Letter(AlarmNotice notice)
    {
        var letter = new MimeMessage();
        MailboxAddress from = MailboxAddress.Parse(settings.From);
        letter.From.Add(from);
        letter.To.AddRange(settings.To.Select(MailboxAddress.Parse));
        letter.Subject = notice.Subject;
        letter.Date = Measurement.Time.UtcText.ToDateTimeOffset(notice.AtUtc);
        letter.MessageId = $"{notice.Id}@{from.Domain}";
        letter.Headers.Add("Auto-Submitted", "auto-generated"); // RFC 3834: no out-of-office replies
        if (notice.Priority == Measurement.Alarms.AlarmPriority.High && notice.Kind is not (NoticeKind.FollowUp or NoticeKind.Test))
        {
            letter.Importance = MessageImportance.High;
        }

        letter.Body = new TextPart("plain")
        {
            Text = string.Create(CultureInfo.InvariantCulture, $"{notice.Text}\n\n{AlarmNotice.Caution}\nNotice {notice.Id}\n"),
        };
        return letter;
    }

    private static string OneLine(string text) => text.ReplaceLineEndings(" ").Trim();

    private async Task ConnectAsync(Client client, CertificateJudge judge, CancellationToken cancel)
    {
        client.ServerCertificateValidationCallback = judge.Accept;
        client.CheckCertificateRevocation = false; // a bench's network reaches its mail server, and often no list of revocations
        SecureSocketOptions security = settings.Security switch
        {
            MailSecurity.Tls => SecureSocketOptions.SslOnConnect,
            MailSecurity.None => SecureSocketOptions.None,
            _ => SecureSocketOptions.StartTls,
        };
        await client.ConnectAsync(settings.Host, settings.Port, security, cancel);
        if (settings.User is { } user)
        {
            await client.AuthenticateAsync(user, settings.Password is { } place ? Secrets.Read(place) : "", cancel);
        }
    }

    /// <summary>An address refused for good does not keep the letter from the others; one refused for now does, for a few tries.</summary>
    private sealed class Client(bool isImpatient) : SmtpClient
    {
        public List<string> LeftOut { get; } = [];

        protected override void OnRecipientNotAccepted(MimeMessage message, MailboxAddress mailbox, SmtpResponse response)
        {
            if ((int)response.StatusCode < 500 && !isImpatient)
            {
                base.OnRecipientNotAccepted(message, mailbox, response);
            }

            LeftOut.Add(string.Create(CultureInfo.InvariantCulture, $"{mailbox.Address} ({(int)response.StatusCode} {OneLine(response.Response)})"));
        }

        protected override void OnNoRecipientsAccepted(MimeMessage message) =>
            throw new SmtpCommandException(SmtpErrorCode.RecipientNotAccepted, SmtpStatusCode.MailboxUnavailable, message.To.Mailboxes.First(), $"none of the addresses is taken: {string.Join(", ", LeftOut)}");
    }
}
