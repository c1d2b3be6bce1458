// Elements in one line each.

export const at = id => document.getElementById(id);

/** An element with properties, and children; what is null or undefined is left out. */
export function make(tag, parts = {}, ...children) {
  const { data = {}, attributes = {}, ...properties } = parts;
  const made = Object.assign(document.createElement(tag), properties);
  Object.assign(made.dataset, data);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children.filter(child => child !== null && child !== undefined));
  return made;
}

/** Writes a text only where it changed: what a person selects, or a reader reads, stays. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/**
 * Puts these children there and no others. Only what has to be is moved: a button that holds the focus keeps it while something
 * comes in above it.
 */
export function fill(host, nodes) {
  const wanted = new Set(nodes);
  for (const child of [...host.children]) if (!wanted.has(child)) child.remove();
  nodes.forEach((node, i) => {
    if (host.children[i] !== node) host.insertBefore(node, host.children[i] ?? null);
  });
}

/** A list of facts that is filled again and again: names are made once, and one without a value is hidden. */
export function facts(names) {
  const list = make('dl', { className: 'known' });
  const parts = Object.entries(names).map(([key, name]) => {
    const value = make('dd'), row = make('div', { data: { fact: key } }, make('dt', { textContent: name }), value);
    list.append(row);
    return [key, { row, value }];
  });
  const byKey = Object.fromEntries(parts);
  return {
    list,
    fill(values) {
      for (const [key, { row, value }] of Object.entries(byKey)) {
        row.hidden = !values[key];
        say(value, values[key] || '');
      }
    },
  };
}

/** A screen as narrow as a hand holds: what is rarely asked for is folded there. */
export const isNarrow = () => matchMedia('(max-width: 600px)').matches;

/** Facts that open at a touch. They stay open when they are made anew, as their line changes: <opened> keeps the keys of those that are. */
export function folded(facts, summary, opened, key) {
  const box = make('details', { className: 'folded', open: opened.has(key) }, make('summary', { textContent: 'More', ariaLabel: summary }), facts);
  box.addEventListener('toggle', () => (box.open ? opened.add(key) : opened.delete(key)));
  return box;
}
