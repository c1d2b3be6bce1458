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
