import type { BenchHealth, ContactState } from '../../src/server/bench-feed.js';
import { fill, make } from '../shared/page-parts.js';

interface Line {
  readonly text: string;
  /** Must not be passed over. */
  readonly grave?: boolean;
}

const unread = 'its contact cannot be read, so look';

/** What to look at before any pressure, with what the contacts say at this moment. The tool reminds; nothing in it holds the pump back. */
export class SetUpReminder {
  readonly #list = make('ul', '');
  readonly element = make('section', 'reminder', make('h3', '', 'Before any pressure'), this.#list);

  show(health: BenchHealth | null): void {
    const lines = linesFor(health);
    fill(this.#list, JSON.stringify(lines), () => lines.map(({ text, grave }) => make('li', grave === true ? 'grave' : '', text)));
  }
}

function linesFor(health: BenchHealth | null): Line[] {
  const contacts = health?.contacts ?? (health?.lid == null ? [] : [{ contact: 'lid', state: health.lid } as const]);
  const of = (wanted: ContactState['contact']) => contacts.find(({ contact }) => contact === wanted);
  return [
    { text: 'Ratings: no hose, fitting or adapter is rated below what the plan asks of it; ask a competent person where that is not plain.' },
    { text: 'Fittings tight, before pressure and never under it; every assembly free to move, mat in place.' },
    { text: 'Air purged: compressed air stores energy that water does not.' },
    lidLine(of('lid')),
    ...pumpLine(of('pump')),
    ventLine(of('vent')),
    { text: 'Nobody else at the bench.' },
  ];
}

function lidLine(lid: ContactState | undefined): Line {
  if (lid === undefined) return { text: 'Lid latched.' };
  if (lid.state === null) return { text: `Lid latched: ${unread}.`, grave: true };
  return lid.state === 'open' ? { text: 'Lid latched: its contact says open: no pressure before it is shut.', grave: true } : { text: 'Lid latched: its contact says shut; look all the same.' };
}

function pumpLine(pump: ContactState | undefined): Line[] {
  if (pump === undefined) return [];
  if (pump.state === null) return [{ text: `Pump off until all of this is done: ${unread}.` }];
  return pump.state === 'on' ? [{ text: 'Pump off until all of this is done: its contact says running.', grave: true }] : [{ text: 'Pump off until all of this is done: its contact says off; look all the same.' }];
}

function ventLine(vent: ContactState | undefined): Line {
  const within = 'Vent within reach';
  if (vent === undefined) return { text: `${within}.` };
  if (vent.state === null) return { text: `${within}: ${unread}.` };
  return { text: vent.state === 'open' ? `${within}: its contact says open; the pressure rises once it is shut.` : `${within}: its contact says shut; pressure that is there stays.` };
}
