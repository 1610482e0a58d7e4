/** The element with that id; the page is broken without it. */
export function part(id: string): HTMLElement {
  const element = document.getElementById(id);
  if (element === null) throw new Error(`the page has no element '${id}'`);
  return element;
}

/** Sets a text only where it differs: screen readers speak a live region again at each change. */
export function say(element: Element, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}

/** A new element with a class and children. */
export function make(tag: string, name: string, ...children: (Node | string)[]): HTMLElement {
  const element = document.createElement(tag);
  if (name !== '') element.className = name;
  element.append(...children);
  return element;
}

/** Replaces the items of a list only when `key` has changed. */
export function fill(list: HTMLElement, key: string, items: () => readonly Node[]): void {
  if (list.dataset['key'] === key) return;
  list.dataset['key'] = key;
  list.replaceChildren(...items());
}
