using DriftWatch.Calibrating;
using DriftWatch.Measurement.Calibrations;
using DriftWatch.Measurement.Channels;
using DriftWatch.Running;

namespace DriftWatch.Tests.Web;

/// <summary>Calibrations as a running bench takes them, kept in memory.</summary>
public sealed partial class FakeBench
{
    private readonly List<(string Channel, Calibration Calibration)> _calibrated = [];

    public Calibration InForce(ChannelDefinition channel)
    {
        lock (_gate)
        {
            return _calibrated.LastOrDefault(c => c.Channel == channel.Id).Calibration ?? channel.Calibration;
        }
    }

    IReadOnlyList<CalibrationRow> IBenchView.Calibrations()
    {
        lock (_gate)
        {
            return
            [
                .. Bench.Channels.SelectMany(c => _calibrated.Where(e => e.Channel == c.Id).Select(e => (e.Calibration, e.Calibration.ValidFromUtcNanoseconds)).Prepend((c.Calibration, null))
                    .Select(e => new CalibrationRow(c, e.Item1, e.Item2, ReferenceEquals(e.Item1, InForce(c))))),
            ];
        }
    }

    CalibrationDocument IBenchView.TryCalibration(string channel, CalibrationSheet sheet, CalibrationSigner signer) =>
        CalibrationEntry.Make(Bench, Table(), channel, sheet, signer, ToUtcNanoseconds(Now), out _);

    private CalibrationTable Table()
    {
        CalibrationTable table = CalibrationTable.Empty.WithBench(Bench);
        lock (_gate)
        {
            foreach ((string id, Calibration calibration) in _calibrated)
            {
                table = table.With(Bench.Channels.First(c => c.Id == id).Key, calibration);
            }
        }

        return table;
    }

    Task<(CalibrationDocument Document, long Number)> IBenchView.CalibrateAsync(string channel, CalibrationSheet sheet, CalibrationSigner signer, CancellationToken cancel)
    {
        if (CalibrationEntry.SentAgain(Bench, Table(), channel, signer) is { } known)
        {
            return Task.FromResult((known, 0L));
        }

        CalibrationDocument document = ((IBenchView)this).TryCalibration(channel, sheet, signer);
        lock (_gate)
        {
            _calibrated.Add((document.Channel, document.ToCalibration()));
            return Task.FromResult((document, 1000L + _calibrated.Count));
        }
    }
}
