// The documents of a pass, each by one click: the report to read and to keep, and the evidence to hand on.

import * as api from '../api.js';
import { at, make, say } from '../dom.js';

const zone = Intl.DateTimeFormat().resolvedOptions().timeZone; // the report has the times of the wall clock of whoever asks
const packedAfterMs = 62_000; // the minute after the run belongs to the package

export class Papers {
  constructor(view) {
    this.view = view;
  }

  begin(pass) {
    const link = (what, textContent, parts) => make('li', {}, make('a', { href: api.paper(this.view.bench, this.view.transfer.id, what, pass.number, zone), textContent, ...parts }));
    this.evidence = link('package', 'Save the evidence (zip)', { download: '' });
    at('papers').replaceChildren(link('report.pdf', 'Save the report (PDF)', { download: '' }), link('report.html', 'Open the report', {}), this.evidence);
  }

  show(pass) {
    const { run } = pass;
    const isWhole = Boolean(run?.ended) && this.view.model.utcNow > Date.parse(run.ended.about) + packedAfterMs;
    at('papers').hidden = !run;
    this.evidence.hidden = !isWhole;
    say(at('papers-said'), !run ? 'There are documents once the run has begun.'
      : !run.ended ? 'The report tells the run as far as it has come. The evidence is packed once the run is over.'
      : !isWhole ? 'The evidence can be packed a minute after the end of the run.'
      : 'The evidence is a bag: report, exact record, readings, findings, alarms, calibrations and all that was entered, with checksums. It and the report are made anew at each click, from what stands in the store.');
    return run ? (isWhole ? 'ready' : 'report only') : 'after the run';
  }
}
