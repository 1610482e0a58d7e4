import type { Shape } from './verdict-looks.js';

const paths: Readonly<Record<Shape, readonly (readonly [d: string, part: string])[]>> = {
  ring: [['M24 6a18 18 0 1 0 .01 0', '']],
  'broken-ring': [['M24 6a18 18 0 0 1 17 12M42 28a18 18 0 0 1-14 13.6M18 41a18 18 0 0 1-11.500-12M6.500 19a18 18 0 0 1 8-10.500', '']],
  'disc-tick': [['M24 4a20 20 0 1 0 .01 0', 'solid'], ['M15 25l6.500 6.500L34 17.500', 'cut']],
  'octagon-cross': [['M16 4h16l12 12v16L32 44H16L4 32V16z', 'solid'], ['M16.500 16.500l15 15M31.500 16.500l-15 15', 'cut']],
  'diamond-question': [['M24 3L45 24 24 45 3 24z', 'solid'], ['M19 19.500a5.500 5.500 0 1 1 7.500 5c-1.800.800-2.500 1.800-2.500 3.500M24 34v.1', 'cut']],
};

/** Draws a shape into an empty `svg` of 48 x 48. */
export function drawShape(svg: Element, shape: Shape): void {
  if (svg.getAttribute('data-shape') === shape) return;
  svg.setAttribute('data-shape', shape);
  svg.replaceChildren(
    ...paths[shape].map(([d, part]) => {
      const path = document.createElementNS('http://www.w3.org/2000/svg', 'path');
      path.setAttribute('d', d);
      if (part !== '') path.setAttribute('class', part);
      return path;
    }),
  );
}

/** A shape as an element of its own; it says nothing to a screen reader, the word beside it does. */
export function shapeOf(shape: Shape): Element {
  const svg = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  svg.setAttribute('class', 'shape');
  svg.setAttribute('viewBox', '0 0 48 48');
  svg.setAttribute('aria-hidden', 'true');
  drawShape(svg, shape);
  return svg;
}
