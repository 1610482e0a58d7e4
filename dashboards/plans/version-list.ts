import { make } from '../shared/page-parts.js';
import type { DifferenceAnswer, VersionInfo } from '../shared/setup-client.js';
import { dayTime } from '../shared/time-words.js';
import { changeTable } from './change-table.js';

export interface VersionActions {
  difference(from: number, to: number): Promise<DifferenceAnswer>;
  goBack(to: number): void;
}

/** Every version with who, when and why; what it changed, and the way back to it. @param versions newest first */
export function versionList(versions: readonly VersionInfo[], actions: VersionActions): HTMLElement {
  const [newest] = versions;
  const list = make('ol', 'versions');
  versions.forEach((version, i) => {
    const before = versions[i + 1];
    const item = make('li', '', line(version));
    const buttons = make('div', 'buttons');
    if (before !== undefined) buttons.append(differenceButton(item, before.version, version.version, actions));
    if (newest !== undefined && version !== newest) {
      if (before !== undefined && newest.version - version.version > 0) buttons.append(differenceButton(item, version.version, newest.version, actions, 'Compare with now'));
      buttons.append(button('Go back to this', `Go back to this: version ${version.version}`, () => actions.goBack(version.version)));
    }
    if (buttons.childElementCount > 0) item.append(buttons);
    list.append(item);
  });
  return list;
}

function line({ version, wall, who, why, retired }: VersionInfo): HTMLElement {
  return make('div', 'line', make('strong', '', `Version ${version}${retired ? ', retired' : ''}`), make('span', 'when', `${dayTime(wall)} ${new Date(wall).getFullYear()}, ${who}`), make('span', 'why', why));
}

function differenceButton(item: HTMLElement, from: number, to: number, actions: VersionActions, words = 'What it changed'): HTMLElement {
  let shown: HTMLElement | null = null;
  const pressed = button(words, `${words}: from version ${from} to version ${to}`, () => {
    if (shown !== null) {
      shown.remove();
      shown = null;
      pressed.setAttribute('aria-expanded', 'false');
      return;
    }
    void actions.difference(from, to).then(({ changes }) => {
      shown = changeTable(changes, `From version ${from} to version ${to}`);
      item.append(shown);
      pressed.setAttribute('aria-expanded', 'true');
    });
  });
  pressed.setAttribute('aria-expanded', 'false');
  return pressed;
}

export function button(text: string, label: string, press: () => void, name = ''): HTMLElement {
  const made = make('button', name, text);
  made.setAttribute('type', 'button');
  if (label !== text) made.setAttribute('aria-label', label);
  made.addEventListener('click', press);
  return made;
}
