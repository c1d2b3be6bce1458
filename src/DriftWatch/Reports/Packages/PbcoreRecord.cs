using System.Globalization;
using System.Xml.Linq;
using DriftWatch.Measurement.Time;
using DriftWatch.Reports.Dossiers;
using DriftWatch.Reports.Dossiers.Figures;

namespace DriftWatch.Reports.Packages;

/// <summary>
/// The run as a PBCore 2.1 description with annotations of its instantiation, for catalogues that know no PREMIS. The tests hold it
/// against the content models of the published schema of all that is used here.
/// </summary>
internal static class PbcoreRecord
{
    private static readonly XNamespace Pbcore = "http://www.pbcore.org/PBCore/PBCoreNamespace.html";

    public static void Write(Stream stream, Dossier dossier)
    {
        var document = new XElement(
            Pbcore + "pbcoreDescriptionDocument",
            Identifiers("pbcoreIdentifier", dossier),
            new XElement(Pbcore + "pbcoreTitle", PackageWords.TitleOf(dossier)),
            new XElement(Pbcore + "pbcoreDescription", $"What the machine did while the tape was played: {dossier.Bench.Label}."),
            new XElement(
                Pbcore + "pbcoreInstantiation",
                Identifiers("instantiationIdentifier", dossier),
                new XElement(Pbcore + "instantiationDate", new XAttribute("dateType", "played"), UtcText.FromNanoseconds(dossier.Run.Stretch.FromUtc)),
                new XElement(Pbcore + "instantiationStandard", PackageWords.StandardOf(dossier)),
                new XElement(Pbcore + "instantiationLocation", dossier.Bench.Machine.Label),
                new XElement(Pbcore + "instantiationMediaType", "Moving Image"),
                new XElement(Pbcore + "instantiationDuration", FigureFrame.PlaceText(dossier.Run.Stretch.Nanoseconds / 1e9)),
                Annotations(dossier).Select(a => new XElement(Pbcore + "instantiationAnnotation", new XAttribute("annotationType", a.Type), a.Text))));
        new XDocument(new XDeclaration("1.0", "UTF-8", null), document).Save(stream);
    }

    /// <summary>The tape's own first, by which a catalogue knows it; beside it that of the transfer, or of the span where no tape was entered.</summary>
    private static IEnumerable<XElement> Identifiers(string element, Dossier dossier)
    {
        if (dossier.Transfer is { } transfer)
        {
            yield return new XElement(Pbcore + element, new XAttribute("source", "shelf mark"), transfer.Tape.Identifier);
        }

        yield return new XElement(
            Pbcore + element, new XAttribute("source", "DriftWatch"),
            dossier.Transfer?.Id ?? $"{dossier.Bench.Id}/{UtcText.FromNanoseconds(dossier.Run.Stretch.FromUtc)}");
    }

    private static IEnumerable<(string Type, string Text)> Annotations(Dossier dossier)
    {
        if (PackageWords.OtherStandardOf(dossier) is { } other)
        {
            yield return ("standard of the machine", $"{other} by the bench file; the tape was described as {PackageWords.StandardOf(dossier)}");
        }

        yield return ("watched share of the run", dossier.WatchedShare.ToString("0.####", CultureInfo.InvariantCulture));
        yield return ("SHA-256 of the record of the machine", dossier.Record.Sha256);
        yield return ("verdict", PackageWords.VerdictOf(dossier));
        foreach (Trouble trouble in Trouble.Of(dossier))
        {
            yield return ("condition of playback", $"{FigureFrame.PlaceText(trouble.FromSeconds)} to {FigureFrame.PlaceText(trouble.ToSeconds)}: {trouble.What} {trouble.OnTheTape}");
        }
    }
}
