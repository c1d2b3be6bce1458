// What held on a channel so far, version by version.

import * as api from '../api.js';
import { at, make } from '../dom.js';
import * as words from '../words.js';

const conformities = { within: '● within', outside: '▲ outside', undecided: '◇ open', 'not-judged': '○ not judged' };
export const conformity = slug => conformities[slug] ?? '—';

export const signed = (value, unit) => (value === null ? '—' : `${value < 0 ? '−' : '+'}${Number(Math.abs(value).toPrecision(2))} ${unit}`);

/** Links to the certificate and the data of one calibration. */
export const papers = (bench, id, version) => [
  make('a', { href: api.certificate(bench, id), textContent: 'certificate', ariaLabel: `Certificate of version ${version} (PDF)`, download: '' }), ' ',
  make('a', { href: `/api/v1/benches/${bench}/calibrations/${id}`, textContent: 'data', ariaLabel: `Data of version ${version} (JSON)`, download: `calibration-${id}.json` }),
];

export function show({ bench, items }, model, channel) {
  const rows = items.filter(r => r.channel === channel?.id);
  at('history').replaceChildren(...rows.reverse().map(r => make('tr', { data: { force: r.inForce ? 'yes' : 'no' } },
    make('th', { scope: 'row', textContent: r.inForce ? `${r.version}, in force` : String(r.version) }),
    make('td', { textContent: (r.validFrom ? words.instant(Date.parse(r.validFrom), model.utcNow) : 'the beginning') + (r.entered && r.validFrom < r.entered ? ', applied back' : '') }),
    make('td', { textContent: r.by ?? 'bench file' }),
    make('td', { textContent: r.asFound === null ? '—' : `${signed(r.asFound, r.unit)} ${conformity(r.asFoundConformity)}` }),
    make('td', { textContent: r.asLeft === null ? '—' : `${signed(r.asLeft, r.unit)} ${conformity(r.asLeftConformity)}` }),
    make('td', { textContent: r.expandedUncertainty === null ? '—' : `${r.expandedUncertainty.toPrecision(2)} ${r.unit}` }),
    make('td', { textContent: r.drift === null ? '—' : `${signed(r.drift, r.unit)}${r.driftPerYear === null ? '' : `, ${signed(r.driftPerYear, r.unit)} a year`}${r.driftIsSignificant ? '' : ' (within its uncertainty)'}` }),
    make('td', { textContent: r.due ?? 'not set' }),
    make('td', {}, ...(r.id ? papers(bench, r.id, r.version) : ['—'])))));
}
