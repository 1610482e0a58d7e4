import { readdir, realpath } from 'node:fs/promises';
import { join } from 'node:path';
import { SerialPort } from 'serialport';
import { LinkError, type PortRule } from './wiring.js';

/** A serial port of this computer. */
export interface PortInfo {
  readonly path: string;
  /** Serial number of the USB adapter, where it has one. */
  readonly serial?: string;
  /** Physical socket: its name under /dev/serial/by-path. */
  readonly socket?: string;
  /** Maker and product of the USB adapter, `1a86:7523`. */
  readonly id?: string;
}

const byPath = '/dev/serial/by-path';

/** The serial ports that the system knows. Ports without udev (pseudo terminals) are not among them. */
export async function listPorts(): Promise<PortInfo[]> {
  // Without the udev package the library's list rejects: then nothing is known, and nothing is wrong.
  const ports = await SerialPort.list().catch(() => []);
  const sockets = new Map<string, string>();
  for (const name of await readdir(byPath).catch(() => [])) {
    const path = await realpath(join(byPath, name)).catch(() => undefined);
    if (path !== undefined) sockets.set(path, name);
  }
  return ports.map(({ path, serialNumber, vendorId, productId }) => {
    const socket = sockets.get(path);
    return {
      path,
      ...(serialNumber && { serial: serialNumber }),
      ...(socket !== undefined && { socket }),
      ...(vendorId && productId && { id: `${vendorId}:${productId}`.toLowerCase() }),
    };
  });
}

/** The rule as people read it. */
export function describeRule(rule: PortRule): string {
  switch (rule.by) {
    case 'path':
      return rule.path;
    case 'serial':
      return `the adapter with serial number ${rule.serial}`;
    case 'socket':
      return `the adapter in socket ${rule.socket}`;
    case 'id':
      return `the adapter of type ${rule.id}`;
  }
}

/**
 * The one port that a rule means.
 * @throws LinkError `missing` when none matches, `ambiguous` when several do: two benches must never be swapped.
 */
export function choosePort(rule: PortRule, ports: readonly PortInfo[]): string {
  if (rule.by === 'path') return rule.path;
  const wanted = rule.by === 'serial' ? rule.serial : rule.by === 'socket' ? rule.socket : rule.id.toLowerCase();
  const found = ports.filter((port) => port[rule.by] === wanted);
  const [first, second] = found;
  if (first === undefined) {
    const known = ports.map(describePort).join('; ') || 'none';
    throw new LinkError('missing', `${describeRule(rule)} is not plugged in; serial ports found: ${known}`);
  }
  if (second !== undefined) {
    throw new LinkError(
      'ambiguous',
      `${found.length} ports match ${describeRule(rule)}: ${found.map(describePort).join('; ')}; none was opened, name the socket instead`,
    );
  }
  return first.path;
}

/** `/dev/ttyUSB0 (serial A1, socket ..., type 1a86:7523)` */
export function describePort({ path, serial, socket, id }: PortInfo): string {
  const parts = [serial && `serial ${serial}`, socket && `socket ${socket}`, id && `type ${id}`].filter(Boolean);
  return parts.length === 0 ? path : `${path} (${parts.join(', ')})`;
}
