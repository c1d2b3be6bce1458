using MQTTnet;
using MQTTnet.Formatter;
using MQTTnet.Protocol;

namespace DriftWatch.Notices.Routes;

/// <summary>The broker takes the connection and refuses who we are.</summary>
internal sealed class BrokerRefusedException(string said) : Exception(said);

/// <summary>
/// A broker of MQTT (OASIS 5.0, or 3.1.1): the notice as JSON with quality of service 1, at least once. Whoever reads
/// the topic drops what it has seen by the field <c>id</c>.
/// </summary>
internal sealed class MqttRoute(MqttSettings settings, string clientId, TimeProvider time) : INoticeRoute
{
    private readonly CertificateJudge _judge = new(settings.TrustFile, time);
    private readonly IMqttClient _client = new MqttClientFactory().CreateMqttClient();

    public Task<RouteAnswer> SendAsync(AlarmNotice notice, int tries, CancellationToken cancel) => SendAsync(NoticeJson.ToUtf8(notice), cancel);

    public async Task<RouteAnswer> SendAsync(byte[] payload, CancellationToken cancel)
    {
        try
        {
            await ConnectAsync(_client, clientId, cancel);
            MqttApplicationMessage message = new MqttApplicationMessageBuilder()
                .WithTopic(settings.Topic)
                .WithPayload(payload)
                .WithQualityOfServiceLevel(MqttQualityOfServiceLevel.AtLeastOnce)
                .Build();
            MqttClientPublishResult result = await _client.PublishAsync(message, cancel);
            return result.ReasonCode switch
            {
                MqttClientPublishReasonCode.Success => new RouteAnswer(true, "the broker has it"),
                MqttClientPublishReasonCode.NoMatchingSubscribers => new RouteAnswer(true, "the broker has it, and nobody reads the topic"),
                MqttClientPublishReasonCode.NotAuthorized => new RouteAnswer(false, $"the broker does not let us write to {settings.Topic}") { Remedy = "look at user, topic and what the broker allows" },
                _ => new RouteAnswer(false, $"the broker refused it: {result.ReasonCode} {result.ReasonString}".TrimEnd()),
            };
        }
        catch (Exception exception) when (exception is not OperationCanceledException || !cancel.IsCancellationRequested)
        {
            return RouteWords.Of(exception, _judge);
        }
    }

    public async Task<RouteAnswer> CheckAsync(CancellationToken cancel)
    {
        try
        {
            // Under a name of its own: the broker would throw out the service that watches under ours.
            using IMqttClient client = new MqttClientFactory().CreateMqttClient();
            await ConnectAsync(client, clientId + "-check", cancel);
            await client.DisconnectAsync(new MqttClientDisconnectOptions(), cancel);
            return new RouteAnswer(_judge.Warning.Length == 0, $"the broker takes us{_judge.Warning}");
        }
        catch (Exception exception) when (exception is not OperationCanceledException || !cancel.IsCancellationRequested)
        {
            return RouteWords.Of(exception, _judge);
        }
    }

    public async ValueTask DisposeAsync()
    {
        try
        {
            if (_client.IsConnected)
            {
                await _client.DisconnectAsync(new MqttClientDisconnectOptions());
            }
        }
        catch (Exception exception) when (exception is MQTTnet.Exceptions.MqttCommunicationException or OperationCanceledException or InvalidOperationException)
        {
            // It went by itself.
        }

        _client.Dispose();
    }

    private async Task ConnectAsync(IMqttClient client, string name, CancellationToken cancel)
    {
        if (client.IsConnected)
        {
            return;
        }

        MqttClientOptionsBuilder options = new MqttClientOptionsBuilder()
            .WithTcpServer(settings.Host, settings.Port)
            .WithProtocolVersion(settings.IsOldProtocol ? MqttProtocolVersion.V311 : MqttProtocolVersion.V500)
            .WithClientId(name)
            .WithTimeout(TimeSpan.FromSeconds(10));
        if (settings.User is { } user)
        {
            options = options.WithCredentials(user, settings.Password is { } place ? Secrets.Read(place) : "");
        }

        if (settings.Tls)
        {
            options = options.WithTlsOptions(tls => tls
                .UseTls()
                .WithTargetHost(settings.Host)
                .WithCertificateValidationHandler(shown => _judge.Accept(shown.Certificate, shown.SslPolicyErrors)));
        }

        MqttClientConnectResult result = await client.ConnectAsync(options.Build(), cancel);
        if (result.ResultCode != MqttClientConnectResultCode.Success)
        {
            throw new BrokerRefusedException($"{result.ResultCode} {result.ReasonString}".TrimEnd());
        }
    }
}
