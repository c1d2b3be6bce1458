using DriftWatch.Measurement.Channels;

namespace DriftWatch.Acquisition.Recordings;

/// <summary>One channel's cells in a row.</summary>
internal readonly record struct RowColumn(int Key, int Cell, int MinimumCell, int MaximumCell)
{
    /// <summary>Sorted by channel key, which is the order of judging.</summary>
    public static RowColumn[] Of(IReadOnlyList<CsvColumn> columns, IReadOnlyList<ChannelDefinition> channels)
    {
        int CellOf(int channel, CsvPart part)
        {
            for (int i = 0; i < columns.Count; i++)
            {
                if (columns[i].Channel == channel && columns[i].Part == part)
                {
                    return i;
                }
            }

            return -1;
        }

        return
        [
            .. Enumerable.Range(0, columns.Count)
                .Where(i => columns[i].Channel >= 0 && columns[i].Part == CsvPart.Value)
                .Select(i => new RowColumn(
                    channels[columns[i].Channel].Key, i, CellOf(columns[i].Channel, CsvPart.Minimum), CellOf(columns[i].Channel, CsvPart.Maximum)))
                .OrderBy(c => c.Key),
        ];
    }
}
