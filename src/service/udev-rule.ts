import type { PortInfo } from '../../drivers/ports.js';
import type { InputOptions } from '../../drivers/index.js';

/** How a serial port gets a name that it keeps. */
export type StableName =
  /** Nothing to do, and why. */
  | { readonly kind: 'steady'; readonly why: string }
  /** A rule for udev, and the name that it gives. */
  | { readonly kind: 'rule'; readonly text: string; readonly device: string }
  /** A rule cannot be made; what to do instead. */
  | { readonly kind: 'hint'; readonly text: string };

/** A value in a rule: udev(7) knows `\"` within quotes, and nothing here needs its wildcards. */
const quoted = (text: string): string => `"${text.replaceAll(/[^\x20-\x7e]/g, '?').replaceAll('"', '?').replaceAll(/[*[\]|\\]/g, '?')}"`;

/**
 * A name for the port of an input that does not change when adapters are plugged in another order: by the serial number of
 * the adapter, or by its socket where it has none.
 * @param name of the bench, plain
 * @param ports what is plugged in now
 */
export function stableName(input: InputOptions, name: string, ports: readonly PortInfo[]): StableName {
  if (input.driver !== 'serial-line' && input.driver !== 'modbus-rtu') return { kind: 'steady', why: 'the bench reads no serial port' };
  const { path } = input;
  if (path === undefined) return { kind: 'steady', why: 'the bench file finds the adapter by its serial number, socket or type' };
  if (!/^\/dev\/tty(USB|ACM)\d+$/.test(path)) return { kind: 'steady', why: `${path} keeps its name` };
  const port = ports.find((known) => known.path === path);
  const device = `/dev/dwellkeeper/${name}`;
  const rule = (match: string): StableName => ({
    kind: 'rule',
    device,
    text: `# Made by 'dwellkeeper service install': ${path} keeps the name ${device}, whatever is plugged in first.\nSUBSYSTEM=="tty", ${match}, SYMLINK+="dwellkeeper/${name}"\n`,
  });
  const [vendor, product] = port?.id?.split(':') ?? [];
  if (port?.serial !== undefined) return rule(`${vendor !== undefined ? `ENV{ID_VENDOR_ID}==${quoted(vendor)}, ENV{ID_MODEL_ID}==${quoted(product ?? '')}, ` : ''}ENV{ID_SERIAL_SHORT}==${quoted(port.serial)}`);
  if (port?.socket !== undefined) return rule(`ENV{ID_PATH}==${quoted(port.socket.replace(/-port\d+$/, ''))}`);
  return {
    kind: 'hint',
    text: `${path} may be another adapter after a replug. Plug the adapter in and name it in the bench file by a link that 'ls -l /dev/serial/by-id /dev/serial/by-path' shows.`,
  };
}
