// Ids of what people enter. An entry has its id from the page, so that one that is sent again after a lost answer is entered once.

/** A UUID of version 7 (RFC 9562, 5.7): 48 bits of milliseconds, then chance. */
export function newId(ms = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 5, left = ms; i >= 0; i--, left = Math.floor(left / 256)) bytes[i] = left % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map(b => b.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}
