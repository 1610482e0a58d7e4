import { describe, expect, it } from 'vitest';
import { assembliesWords, jobWords } from '../../dashboards/live/job-words.js';
import { placeOfScan, type KnownTexts } from '../../dashboards/live/scan-place.js';
import { WedgeReader } from '../../dashboards/live/wedge-reader.js';

/** Keys one after the other, `apart` ms from each other. */
function typed(keys: readonly string[], apart: number, reader = new WedgeReader(), start = 0) {
  return keys.map((key, i) => reader.key(key, start + i * apart)).at(-1);
}

describe('a scanner that types', () => {
  it('is told from a person by its speed, its length and the Enter at its end', () => {
    expect(typed([...'A17-001', 'Enter'], 5)).toEqual({ kind: 'scanned', text: 'A17-001' });
    expect(typed([...'A17-001', 'Tab'], 5)).toEqual({ kind: 'scanned', text: 'A17-001' });
    expect(typed([...'A17-001', 'Enter'], 120)).toEqual({ kind: 'nothing' });
    expect(typed([...'A1', 'Enter'], 5)).toEqual({ kind: 'nothing' });
    expect(typed([...'A17-001'], 5)).toEqual({ kind: 'scanning' });
  });
  it('may hold Shift between signs, and nothing typed long before belongs to it', () => {
    expect(typed(['Shift', 'A', 'Shift', 'B', '1', '7', 'Enter'], 5)).toEqual({ kind: 'scanned', text: 'AB17' });
    const reader = new WedgeReader();
    typed(['x', 'y'], 5, reader);
    expect(typed([...'A17-001', 'Enter'], 5, reader, 1000)).toEqual({ kind: 'scanned', text: 'A17-001' });
    expect(typed([...'A17-002', 'Enter'], 5, reader, 2000)).toEqual({ kind: 'scanned', text: 'A17-002' });
  });
  it('never keeps more than a line', () => {
    const found = typed([...'9'.repeat(5000), 'Enter'], 1);
    expect(found).toMatchObject({ kind: 'scanned' });
    expect(found?.kind === 'scanned' ? found.text.length : 0).toBe(200);
  });
});

describe('where a scan belongs', () => {
  const known: KnownTexts = { order: ['4711'], assembly: ['A17-001', 'A17-002'], hoseLot: ['L-33'], operator: [], customer: ['Example Farm'] };
  it.each<[string, string | null]>([
    ['A17-044', 'assembly'], ['B99-123', 'assembly'], ['4712', 'order'], ['L-34', 'hoseLot'], ['47110', null], ['example farm', 'customer'], ['XK/4', null],
  ])('%s: %s', (text, place) => expect(placeOfScan(text, known)).toBe(place));
  it('is not guessed where two fields look alike, unless it is the very text of one', () => {
    const alike: KnownTexts = { ...known, hoseLot: ['A17-900'] };
    expect(placeOfScan('A17-044', alike)).toBeNull();
    expect(placeOfScan('a17-900', alike)).toBe('hoseLot');
  });
});

describe('a job in one line', () => {
  it.each<[string[], string]>([
    [[], ''], [['A1'], 'A1'], [['A1', 'A2'], 'A1, A2'], [['A17-008', 'A17-009', 'A17-010'], '3 assemblies, A17-008 to A17-010'], [['A1', 'B1', 'A2'], '3 assemblies, A1 and others'],
  ])('%j are %s', (serials, words) => expect(assembliesWords(serials)).toBe(words));
  it('says what there is', () => {
    expect(jobWords({ order: '4711', assemblies: ['A1'], retestOf: 3, operator: 'J. Doe' })).toBe('order 4711 · A1 · retest of run 3 · J. Doe');
    expect(jobWords({})).toBe('without details');
    expect(jobWords(null)).toBe('');
  });
});
