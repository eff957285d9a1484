// Elements of the page: found by their id, and made.

export const byId = (id) => document.getElementById(id);

export function made(tag, text, attributes = {}) {
  const element = document.createElement(tag);
  if (text !== undefined) element.textContent = text;
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}
