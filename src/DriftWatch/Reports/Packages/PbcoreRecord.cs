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
        string id = dossier.Transfer?.Id ?? $"{dossier.Bench.Id}/{UtcText.FromNanoseconds(dossier.Run.Stretch.FromUtc)}";
        var document = new XElement(
            Pbcore + "pbcoreDescriptionDocument",
            new XElement(Pbcore + "pbcoreIdentifier", new XAttribute("source", "DriftWatch"), id),
            new XElement(Pbcore + "pbcoreTitle", PackageWords.TitleOf(dossier)),
            new XElement(Pbcore + "pbcoreDescription", $"What the machine did while the tape was played: {dossier.Bench.Label}."),
            new XElement(
                Pbcore + "pbcoreInstantiation",
                new XElement(Pbcore + "instantiationIdentifier", new XAttribute("source", "DriftWatch"), id),
                new XElement(Pbcore + "instantiationDate", new XAttribute("dateType", "played"), UtcText.FromNanoseconds(dossier.Run.Stretch.FromUtc)),
                new XElement(Pbcore + "instantiationStandard", dossier.Bench.Machine.Standard),
                new XElement(Pbcore + "instantiationLocation", dossier.Bench.Machine.Label),
                new XElement(Pbcore + "instantiationMediaType", "Moving Image"),
                new XElement(Pbcore + "instantiationDuration", FigureFrame.PlaceText(dossier.Run.Stretch.Nanoseconds / 1e9)),
                Annotations(dossier).Select(a => new XElement(Pbcore + "instantiationAnnotation", new XAttribute("annotationType", a.Type), a.Text))));
        new XDocument(new XDeclaration("1.0", "UTF-8", null), document).Save(stream);
    }

    private static IEnumerable<(string Type, string Text)> Annotations(Dossier dossier)
    {
        yield return ("watched share of the run", dossier.WatchedShare.ToString("0.####", CultureInfo.InvariantCulture));
        yield return ("SHA-256 of the record of the machine", dossier.Record.Sha256);
        yield return ("verdict", PackageWords.VerdictOf(dossier));
        foreach (Trouble trouble in Trouble.Of(dossier))
        {
            yield return ("condition of playback", $"{FigureFrame.PlaceText(trouble.FromSeconds)} to {FigureFrame.PlaceText(trouble.ToSeconds)}: {trouble.What} {trouble.OnTheTape}");
        }
    }
}
