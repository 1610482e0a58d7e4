import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

const runs = (command, ...args) => spawnSync(command, args, { stdio: 'ignore' }).status === 0;

/** What the tests need beside npm packages. The one list: name in Debian, what for, and how to see that it is there. */
export const debianPackages = [
  { name: 'socat', use: 'pairs of serial ports for the drivers', present: () => runs('socat', '-V') },
  { name: 'chromium', use: 'the pages in a real browser', present: () => existsSync('/usr/bin/chromium') || runs('chromium', '--version') },
  {
    name: 'fonts-dejavu-core',
    use: 'text in the browser',
    present: () => existsSync('/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf'),
  },
  {
    name: 'python3-iapws',
    use: 'properties of water to check the simulated hydraulics against',
    present: () => runs('/usr/bin/python3', '-c', 'import iapws'),
  },
  { name: 'mbpoll', use: 'a foreign Modbus program that asks our simulated instruments', present: () => existsSync('/usr/bin/mbpoll') },
  {
    name: 'python3-pymodbus',
    use: 'a foreign Modbus server that our drivers read',
    present: () => runs('/usr/bin/python3', '-c', 'import pymodbus'),
  },
  {
    name: 'python3-serial-asyncio',
    use: 'what pymodbus needs and does not bring',
    present: () => runs('/usr/bin/python3', '-c', 'import serial_asyncio'),
  },
  { name: 'ser2net', use: 'a serial device server', present: () => existsSync('/usr/sbin/ser2net') },
  { name: 'influxdb', use: 'the time-series database', present: () => existsSync('/usr/bin/influxd') },
  {
    name: 'victoria-metrics',
    use: 'the clustered time-series database',
    present: () => existsSync('/usr/bin/victoria-metrics'),
  },
  { name: 'faketime', use: 'clocks that are set while a program runs', present: () => existsSync('/usr/bin/faketime') },
  { name: 'e2fsprogs', use: 'a small disk that goes read-only', present: () => existsSync('/usr/sbin/mkfs.ext4') },
  { name: 'mount', use: 'a small disk that gets full', present: () => existsSync('/usr/bin/mount') },
  { name: 'zbar-tools', use: 'reading the code on a certificate back', present: () => existsSync('/usr/bin/zbarimg') },
  { name: 'systemd', use: 'its own check of our unit, and its words from a service', present: () => existsSync('/usr/bin/systemd-analyze') && existsSync('/usr/bin/systemd-notify') },
  { name: 'openssl', use: 'a certificate for the mail server of the tests', present: () => runs('openssl', 'version') },
  { name: 'poppler-utils', use: 'reading certificates back from their PDF', present: () => existsSync('/usr/bin/pdftotext') },
];

/**
 * Installs what is missing where that is possible (root on Debian); otherwise says what to run.
 * @returns {boolean} whether everything is there
 */
export function ensureDebianPackages() {
  const missing = debianPackages.filter((wanted) => !wanted.present());
  if (missing.length === 0) return true;
  const names = missing.map((wanted) => wanted.name);
  const mayInstall = process.getuid?.() === 0 && runs('apt-get', '--version');
  if (mayInstall) {
    console.error(`Installing ${names.join(', ')}...`);
    const options = { stdio: ['ignore', 2, 2], env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' } };
    spawnSync('apt-get', ['update', '-q'], options);
    spawnSync('apt-get', ['install', '-y', '-q', '--no-install-recommends', ...names], options);
  }
  const still = missing.filter((wanted) => !wanted.present());
  if (still.length === 0) return true;
  for (const { name, use } of still) console.error(`Missing: ${name} (${use}).`);
  console.error('No test is left out, so these are needed first. Run:');
  console.error(`  sudo apt-get update && sudo apt-get install -y --no-install-recommends ${still.map(({ name }) => name).join(' ')}`);
  return false;
}
