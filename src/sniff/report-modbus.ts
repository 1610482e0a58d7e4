import { byteOrders, decodeValue, sizeOf, valueSchema } from '../../drivers/modbus-values.js';
import { digits } from './plausible.js';
import { likelyEnough, shownFit, type RegisterFit } from './register-fit.js';
import type { RegisterSeries } from './registers.js';
import type { ModbusHeard, ModbusSniff } from './sniff-modbus.js';
import { shownSettings } from './sniff-target.js';

/** What was found in the registers, for people; without the bench file. */
export function modbusReport(heard: ModbusHeard, o: ModbusSniff): string[] {
  const { attempts, settings, units, series, bits, fits } = heard;
  if (units.length === 0) {
    const tried = attempts.map((attempt) => attempt.settings).filter((each) => each !== null);
    const stray = attempts.reduce((sum, attempt) => sum + attempt.stray, 0);
    return [
      ...attempts.filter(({ stray: bytes, failed }) => bytes > 0 || failed !== undefined).map((attempt) => `${attempt.settings === null ? 'the connection' : shownSettings(attempt.settings)}: ${attempt.failed ?? `${attempt.stray} bytes that are no answer`}`),
      `No slave answered: unit ids ${shownIds(o.unitIds)}${tried.length === 0 ? '' : `, at ${tried.map(shownSettings).join(', ')}`}, each within ${Math.round(o.answerWithin * 1000)} ms.`,
      stray > 0
        ? 'Bytes came and were no answers: the baud or parity is wrong, or the device speaks another protocol.'
        : 'Check that it is switched on, its unit id (--unit-id 1-247 tries all), A and B of RS-485, and that nobody else asks on this line.',
      ...(o.target.kind === 'tcp' && !o.rtuOverTcp ? ['Where this is a serial device server that hands bytes through, add --rtu.'] : []),
    ];
  }
  const out = [
    `${settings === null ? '' : `At ${shownSettings(settings)}: `}${heard.anyUnit ? `every unit id answers, so ${units[0]?.unitId} alone is looked at; say --unit-id for another` : units.map(({ unitId, said }) => `unit id ${unitId} answers (${said})`).join(', ')}.`,
    ...series.map((each) => `  ${each.table} ${each.start} to ${each.start + each.count - 1} (unit id ${each.unitId}): ${wordsOf(each)}`),
    ...heard.alike.map(({ start, count, unitId }) => `  input ${start} to ${start + count - 1} (unit id ${unitId}): the same as holding`),
    ...bits.map(({ unitId, table, start, states, moved }) => `  ${table} ${start} to ${start + states.length - 1} (unit id ${unitId}): ${states.join(' ')}${moved ? ', one of them moved' : ''}`),
    ...(heard.lost === undefined ? [] : [`The link ended in the middle (${heard.lost}): not everything was read.`]),
    '',
  ];
  const [best] = fits;
  if (best === undefined) {
    return [...out, series.length === 0 ? 'No register of these can be read; give others with --registers, for example --registers 1000-1100.' : 'None of these registers reads as a plausible pressure; say --range, --unit or --expect, or look elsewhere with --registers.'];
  }
  return [
    ...out,
    best.score < likelyEnough ? "Nothing here is likely to be the pressure; raise it, say --expect '12.3 bar', or look elsewhere with --registers. The nearest:" : 'What could be the pressure, the likeliest first:',
    ...fits.filter(({ score }) => score >= best.score / 4).slice(0, 6).flatMap((fit, i) => [`  ${i + 1}. ${shownFit(fit)}: ${digits(fit.readings.at(-1) ?? NaN)}; ${fit.says}`, ...fit.others.map((other) => `       or ${other}`)]),
    ...(o.wanted.expect === undefined ? ["  Say what the needle shows, --expect '12.3 bar', to be surer."] : []),
    '',
    ...around(best, series),
  ];
}

/** The registers about the best answer in all four orders, one address before and behind it, too: manuals count from 0 or from 1. */
function around(fit: RegisterFit, series: readonly RegisterSeries[]): string[] {
  const place = series.find(({ unitId, table, start, count }) => unitId === fit.unitId && table === fit.table && start <= fit.address && fit.address < start + count);
  const last = place?.rounds.at(-1)?.bytes;
  if (place === undefined || last === undefined || fit.type.endsWith('16')) return [];
  const rows = [-1, 0, 1].flatMap((shift) => {
    const at = fit.address + shift - place.start;
    const bytes = last.subarray(at * 2, (at + sizeOf(fit)) * 2);
    if (at < 0 || bytes.length < sizeOf(fit) * 2) return [];
    const read = byteOrders.map((order) => {
      const said = decodeValue(valueSchema.parse({ address: 0, type: fit.type, order, scale: fit.scale }), bytes);
      return `${order} ${'value' in said ? digits(said.value) : 'none'}`;
    });
    return [`  ${fit.address + shift}: ${Buffer.from(bytes).toString('hex').toUpperCase()}  ${read.join(', ')}`];
  });
  return [`${fit.table} registers as ${fit.type}, in each order:`, ...rows, ''];
}

function wordsOf({ rounds }: RegisterSeries): string {
  const last = rounds.at(-1);
  if (last === undefined) return 'no answer any more';
  const words = Buffer.from(last.bytes).toString('hex').toUpperCase().match(/.{4}/g) ?? [];
  return words.slice(0, 24).join(' ') + (words.length > 24 ? ' ...' : '');
}

/** `1 to 10, 247` */
export function shownIds(ids: readonly number[]): string {
  const parts: string[] = [];
  for (let i = 0; i < ids.length; ) {
    let last = i;
    while (ids[last + 1] === (ids[last] ?? NaN) + 1) last++;
    parts.push(last > i ? `${ids[i]} to ${ids[last]}` : `${ids[i]}`);
    i = last + 1;
  }
  return parts.join(', ');
}
