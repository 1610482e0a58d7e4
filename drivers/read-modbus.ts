import type { Observable } from 'rxjs';
import type { Clock } from './clock.js';
import type { Received } from './driver.js';
import type { ModbusFraming } from './modbus-framing.js';
import { blocksOf, type ModbusOptions } from './modbus-options.js';
import { ModbusSession } from './modbus-session.js';
import { runSession } from './run-session.js';
import { LinkError, type Target, type Wiring } from './wiring.js';

/** Opens a link and reads the values of a Modbus device from it; the same for RTU and TCP. */
export function readModbus(target: Target, where: string, o: ModbusOptions, framing: () => ModbusFraming, wiring: Wiring, clock: Clock): Observable<Received> {
  const blocks = blocksOf(o);
  return runSession(target, where, wiring, clock, (openedAt, sink) => {
    const lost = (sentence: string) => {
      throw new LinkError('lost', `${where} ${sentence}`);
    };
    return new ModbusSession(blocks, o, framing(), openedAt, sink, lost);
  });
}
