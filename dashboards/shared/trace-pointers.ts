/** What fingers and mouse do on the trace; positions in CSS px from the left edge of the surface. */
export interface PointerActs {
  /** Pulled from one place to another since the last call. */
  drag(from: number, to: number): void;
  /** Nearer (below 1) or farther, around a place. */
  zoom(factor: number, left: number): void;
  /** Double click or double tap. */
  home(): void;
  touched(): void;
  /** A click or tap that pulled nothing. */
  click?(left: number): void;
}

/** px that a pointer must move before it pulls; less is a tap. */
const slack = 4;

/** One finger or the mouse pulls, two fingers or the wheel zoom. */
export function followPointers(surface: HTMLElement, acts: PointerActs): void {
  const down = new Map<number, number>();
  let pulling = false;
  const at = (event: MouseEvent): number => event.clientX - surface.getBoundingClientRect().left;

  surface.addEventListener('pointerdown', (event) => {
    acts.touched();
    down.set(event.pointerId, at(event));
    pulling = false;
    surface.setPointerCapture(event.pointerId);
  });
  surface.addEventListener('pointermove', (event) => {
    acts.touched();
    const before = down.get(event.pointerId);
    if (before === undefined) return;
    const now = at(event);
    const other = [...down].find(([id]) => id !== event.pointerId)?.[1];
    if (other !== undefined) {
      const [apart, was] = [Math.abs(now - other), Math.abs(before - other)];
      if (apart > 10 && was > 10) acts.zoom(was / apart, (now + other) / 2);
    } else if (!pulling && Math.abs(now - before) < slack) return;
    else acts.drag(before, now);
    pulling = true;
    down.set(event.pointerId, now);
  });
  for (const kind of ['pointerup', 'pointercancel'] as const) surface.addEventListener(kind, (event) => down.delete(event.pointerId));
  // Of two fingers the last one to move decides: what has zoomed is no click.
  surface.addEventListener('click', (event) => {
    if (!pulling) acts.click?.(at(event));
  });
  surface.addEventListener('dblclick', () => acts.home());
  surface.addEventListener(
    'wheel',
    (event) => {
      event.preventDefault();
      acts.zoom(Math.exp(Math.min(Math.max(event.deltaY, -200), 200) / 400), at(event));
    },
    { passive: false },
  );
}
