import { make } from '../shared/page-parts.js';
import type { TraceChart } from '../shared/trace-chart.js';
import type { Handle, HandleKey } from './plot-handles.js';

export interface HandleActs {
  /** Moves it to a value in s, bar or bar/s. */
  move(key: HandleKey, value: number, gesture: string): void;
  /** One step of its slider up or down, ten with `far`. */
  step(key: HandleKey, by: number): void;
  endGesture(): void;
  label(key: HandleKey): string;
  /** How it reads: `1.2 %`. */
  words(key: HandleKey): string;
}

/** px that a handle is kept from the edge of the plot. */
const margin = 2;

/** Thresholds on the plot as sliders, for pointers, keys and screen readers alike. */
export class HandleLayer {
  private readonly elements = new Map<HandleKey, HTMLElement>();
  private handles = new Map<HandleKey, Handle>();
  private gestures = 0;

  constructor(private readonly chart: TraceChart, private readonly acts: HandleActs) {}

  /** Puts the handles where they belong; those that lie outside are left out. */
  place(handles: readonly Handle[]): void {
    this.handles = new Map(handles.map((handle) => [handle.key, handle]));
    const { clientWidth: width, clientHeight: height } = this.chart.surface;
    for (const [key, element] of this.elements) if (!this.handles.has(key)) element.hidden = true;
    for (const handle of handles) {
      const element = this.elements.get(handle.key) ?? this.make(handle);
      let { left, top } = this.chart.placeOf(handle.time, handle.pressure);
      // A line across is taken hold of at the edge; the place along it does not matter.
      if (handle.of === 'line' && handle.along === 'pressure' && handle.key !== 'settleSlope' && handle.key !== 'topUpHeight') left = width - 14;
      // Limits of the plan have a column of their own, beside those of thresholds.
      if (handle.of === 'limit') left = width - 52;
      if (handle.of === 'line' && handle.along === 'time') top = handle.key === 'quietTime' ? height * 0.55 : height * 0.68;
      element.hidden = !(left >= -margin && left <= width + margin && top >= -margin && top <= height + margin);
      element.style.left = `${left}px`;
      element.style.top = `${top}px`;
      element.setAttribute('aria-valuenow', String(Number(handle.valueAt(handle.along === 'time' ? handle.time : handle.pressure).toPrecision(6))));
      element.setAttribute('aria-valuetext', this.acts.words(handle.key));
      element.title = `${this.acts.label(handle.key)}: ${this.acts.words(handle.key)}`;
    }
  }

  private make({ key, along, of }: Handle): HTMLElement {
    const element = make('div', `handle ${along} ${of}`);
    element.tabIndex = 0;
    element.setAttribute('role', 'slider');
    element.setAttribute('aria-label', `${this.acts.label(key)}, on the plot`);
    element.setAttribute('aria-orientation', along === 'time' ? 'horizontal' : 'vertical');
    element.setAttribute('aria-valuemin', '0');
    element.setAttribute('aria-valuemax', '1000000');
    element.dataset['handle'] = key;
    element.addEventListener('pointerdown', (event) => this.grab(event, element, key));
    element.addEventListener('keydown', (event) => {
      const by = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 10, PageDown: -10 }[event.key];
      if (by === undefined) return;
      event.preventDefault();
      event.stopPropagation();
      // Down on the plot is down in pressure: the limit of the slope goes the other way.
      this.acts.step(key, key === 'settleSlope' && (event.key === 'ArrowUp' || event.key === 'ArrowDown') ? -by : by);
    });
    element.addEventListener('blur', () => this.acts.endGesture());
    this.chart.surface.append(element);
    this.elements.set(key, element);
    return element;
  }

  private grab(down: PointerEvent, element: HTMLElement, key: HandleKey): void {
    down.preventDefault();
    down.stopPropagation();
    element.focus();
    element.setPointerCapture(down.pointerId);
    const gesture = `drag ${key} ${++this.gestures}`;
    // Where in the handle it was taken: it must not jump under the pointer.
    const box = element.getBoundingClientRect();
    const off = { x: down.clientX - (box.left + box.width / 2), y: down.clientY - (box.top + box.height / 2) };
    const move = (event: PointerEvent): void => {
      const handle = this.handles.get(key);
      if (handle === undefined) return;
      event.stopPropagation();
      const surface = this.chart.surface.getBoundingClientRect();
      const place = handle.along === 'time' ? this.chart.timeAt(event.clientX - off.x - surface.left) : this.chart.pressureAt(event.clientY - off.y - surface.top);
      this.acts.move(key, handle.valueAt(place), gesture);
    };
    const end = (): void => {
      element.removeEventListener('pointermove', move);
      element.removeEventListener('pointerup', end);
      element.removeEventListener('pointercancel', end);
      this.acts.endGesture();
    };
    element.addEventListener('pointermove', move);
    element.addEventListener('pointerup', end);
    element.addEventListener('pointercancel', end);
  }
}
