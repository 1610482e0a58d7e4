import { pressureUnitOf, type PressureUnit } from '../../src/core/units.js';
import { shownUnits } from './figures.js';
import { make, part } from './page-parts.js';

const remembered = 'dwellkeeper-unit';

/** The unit chosen on this device; `null` while the bench's own is shown. */
export function chosenUnit(): PressureUnit | null {
  return pressureUnitOf(localStorage.getItem(remembered) ?? '') ?? null;
}

/** Offers the usual units and the bench's own; a choice is kept on this device and changes nothing on the bench. */
export function offerUnits(own: PressureUnit, shown: PressureUnit, choose: (unit: PressureUnit) => void): void {
  const list = part('units');
  const units = [...new Set([own, ...shownUnits])].sort((a, b) => shownUnits.indexOf(a) - shownUnits.indexOf(b));
  if (list.dataset['units'] !== units.join(' ')) {
    list.dataset['units'] = units.join(' ');
    list.querySelectorAll('label').forEach((label) => label.remove());
    for (const unit of units) {
      const input = document.createElement('input');
      input.type = 'radio';
      input.name = 'unit';
      input.value = unit;
      input.addEventListener('change', () => {
        localStorage.setItem(remembered, unit);
        choose(unit);
      });
      list.append(make('label', '', input, unit));
    }
  }
  list.querySelectorAll('input').forEach((input) => (input.checked = input.value === shown));
}
