// Days and times that a person reads and writes.

const two = n => String(n).padStart(2, '0');

/** Local day and time as a person writes them: 24 hours whatever the browser's language, so no native input. */
export function localText(ms) {
  const d = new Date(ms);
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())} ${two(d.getHours())}:${two(d.getMinutes())}:${two(d.getSeconds())}`;
}

/** What {@link localText} wrote or a person did; seconds or the time may be left out. NaN for anything else. */
export function localTime(text) {
  const [, day, clock] = /^\s*(\d{4}-\d\d-\d\d)(?:[ T]+(\d\d:\d\d(?::\d\d)?))?\s*$/.exec(text) ?? [];
  return day ? Date.parse(`${day}T${clock ?? '00:00'}`) : NaN; // without a zone it is local
}
