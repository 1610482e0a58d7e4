import type { PressureUnit } from '../../src/core/units.js';
import { pressureText } from '../shared/figures.js';
import { make, part, say } from '../shared/page-parts.js';
import type { PlanLine, PlanList } from '../shared/setup-client.js';
import { dayTime, duration } from '../shared/time-words.js';

/** The list of plans, and what is wrong in the folder. */
export function showShelf(list: PlanList, shown: string | null, unit: PressureUnit, open: (key: string) => void): void {
  const { plans, problems } = list;
  const at = document.activeElement instanceof HTMLElement ? document.activeElement.dataset['key'] : undefined;
  say(part('found'), plans.length === 0 ? 'No plan fits.' : `${plans.length} ${plans.length === 1 ? 'plan' : 'plans'}, last used first`);
  part('plans').replaceChildren(...plans.map((plan) => make('li', plan.retired ? 'retired' : '', line(plan, list, shown, unit, open))));
  part('faults').replaceChildren(
    ...(problems.length === 0 ? [] : [make('h2', '', 'Files that are not used as they are'), make('ul', 'faults', ...problems.map(({ file, text }) => make('li', '', `${file}: ${text}`)))]),
  );
  if (at !== undefined) part('plans').querySelector<HTMLElement>(`[data-key="${CSS.escape(at)}"]`)?.focus();
}

function line(plan: PlanLine, { next }: PlanList, shown: string | null, unit: PressureUnit, open: (key: string) => void): HTMLElement {
  const used = plan.lastUsed === null ? 'not used yet' : `last used ${dayTime(plan.lastUsed)}`;
  const state = plan.key === next ? 'from the next run on' : plan.inForce ? 'in force' : plan.retired ? 'retired' : '';
  const button = make(
    'button', '', make('span', 'name', plan.name), make('span', 'pressure', pressureText(plan.testPressure, unit, null)),
    make('span', 'small', ...(state === '' ? [] : [make('span', 'in-force', state), ', ']), `held ${duration(plan.holdTime)}, version ${plan.version}, ${used}`),
  );
  button.setAttribute('type', 'button');
  button.dataset['key'] = plan.key;
  if (plan.key === shown) button.setAttribute('aria-current', 'true');
  button.addEventListener('click', () => open(plan.key));
  return button;
}
