/** A new SVG element with attributes and children. */
export function draw(tag: string, attributes: Readonly<Record<string, string | number>>, ...children: (Node | string)[]): SVGElement {
  const element = document.createElementNS('http://www.w3.org/2000/svg', tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/** Steps of 1, 2 or 5 times a power of ten within a range, at most `most`. */
export function ticks(low: number, high: number, most: number): { readonly at: number[]; readonly decimals: number } {
  const rough = Math.max((high - low) / Math.max(most, 1), 1e-9);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = ([1, 2, 5, 10].find((s) => s * power >= rough * (1 - 1e-9)) ?? 10) * power;
  const at: number[] = [];
  for (let n = Math.ceil(low / step - 1e-9); n * step <= high + step * 1e-9; n++) at.push(n * step);
  return { at, decimals: Math.min(Math.max(Math.ceil(-Math.log10(step) - 1e-9), 0), 6) };
}

/** Something drawn to the width of the page; drawn anew when that changes, until it is left. */
export interface Drawn {
  readonly element: HTMLElement;
  readonly leave: () => void;
}

/** @param drawing draws for a width in px */
export function fitted(element: HTMLElement, drawing: (width: number) => Node): Drawn {
  let drawn = 0;
  const watch = new ResizeObserver(() => {
    const width = Math.floor(element.clientWidth);
    if (width === 0 || width === drawn) return;
    drawn = width;
    element.replaceChildren(drawing(width));
  });
  watch.observe(element);
  return { element, leave: () => watch.disconnect() };
}
