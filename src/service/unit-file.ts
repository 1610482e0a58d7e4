/** What a unit is made for. */
export interface UnitSetup {
  /** Name of the bench, for people. */
  readonly bench: string;
  /** Absolute paths. */
  readonly node: string;
  readonly program: string;
  readonly benchFile: string;
  /** Folders in which the service writes. */
  readonly writes: readonly string[];
  /** Folder of the plans: written where it is there and the user of the service may. */
  readonly plans?: string;
  readonly user: string;
  /** The bench reads a serial device. */
  readonly serial: boolean;
}

/** Folders that `ProtectHome` hides. */
const homes = ['/home', '/root', '/run/user'];

export const isBelow = (path: string, folder: string): boolean => path === folder || path.startsWith(`${folder}/`);

/** Whether any of the paths lies in somebody's home, which a service is usually kept out of. */
export const needsHomes = ({ node, program, benchFile, writes }: UnitSetup): boolean =>
  [node, program, benchFile, ...writes].some((path) => homes.some((home) => isBelow(path, home)));

/** A word of a unit file as systemd.syntax(7) quotes it; `%` begins a specifier and is doubled. */
export function unitWord(text: string): string {
  const escaped = text.replaceAll('%', '%%').replaceAll('\\', '\\\\').replaceAll('"', '\\"');
  return /[\s"'\\;]/.test(text) ? `"${escaped}"` : escaped;
}

/** A word of a command line, where `$` begins a variable. */
const commandWord = (text: string): string => unitWord(text.replaceAll('$', '$$$$'));

/** One line of plain text: nothing in a name may begin a new setting. */
const plainLine = (text: string): string => text.replaceAll(/[\p{Cc}\s]+/gu, ' ').replaceAll('%', '%%').replace(/\\$/, '').trim();

/**
 * The unit of systemd that keeps one bench watched: it starts with the computer, is started again whatever ends it, is
 * killed and started anew when it stands still for a minute, and may write only where its records are.
 */
export function unitFile(setup: UnitSetup): string {
  const { bench, node, program, benchFile, writes, plans, user, serial } = setup;
  return `# Made by 'dwellkeeper service install'. Changes belong into a drop-in: systemctl edit NAME
[Unit]
Description=Dwellkeeper, ${plainLine(bench)}
Wants=network-online.target
After=network-online.target local-fs.target time-sync.target
# A bench that fails again and again is tried again and again: somebody may be plugging it in.
StartLimitIntervalSec=0

[Service]
Type=notify
# The words to systemd are said by systemd-notify, a child of the service.
NotifyAccess=all
ExecStart=${[node, program, 'start', '--wait', '--last-good', `${writes[0] ?? ''}/last-good`, benchFile].map(commandWord).join(' ')}
User=${user}
Group=${user}
${serial ? 'SupplementaryGroups=dialout\n' : ''}UMask=0027
Restart=always
RestartSec=5
WatchdogSec=60
TimeoutStartSec=120
# What waits is written before the end.
TimeoutStopSec=60
KillMode=mixed
OOMScoreAdjust=-500

ProtectSystem=strict
ReadWritePaths=${writes.map(unitWord).join(' ')}
${plans === undefined || writes.some((folder) => isBelow(plans, folder)) ? '' : `# Plans changed at the page, with their versions; a service that may not write them shows them all the same.\nReadWritePaths=${unitWord(`-${plans}`)}\n`}ProtectHome=${needsHomes(setup) ? 'no' : 'yes'}
PrivateTmp=yes
NoNewPrivileges=yes
CapabilityBoundingSet=
AmbientCapabilities=
RestrictSUIDSGID=yes
LockPersonality=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
RestrictNamespaces=yes
RestrictRealtime=yes
RemoveIPC=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallErrorNumber=EPERM
${serial ? '# Serial devices and nothing else.\nDevicePolicy=closed\nDeviceAllow=char-tty rw\nDeviceAllow=char-ttyUSB rw\nDeviceAllow=char-ttyACM rw\n' : 'PrivateDevices=yes\n'}
[Install]
WantedBy=multi-user.target
`;
}

/** A name of small letters, digits and hyphens: `Bay 2` is `bay-2`. */
export function plainName(name: string): string {
  // The strokes and dots above letters are left out.
  const plain = name.normalize('NFKD').replaceAll(/\p{M}/gu, '').toLowerCase().replaceAll(/[^a-z0-9]+/g, '-').replaceAll(/^-+|-+$/g, '').slice(0, 60);
  return plain === '' ? 'bench' : plain;
}

/** File name of the unit of a bench: `dwellkeeper-bay-2.service`. */
export const unitName = (bench: string): string => `dwellkeeper-${plainName(bench)}.service`;
