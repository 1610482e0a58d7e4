import { readFile } from 'node:fs/promises';
import { openSerial } from './open-serial.js';
import { openTcp } from './open-tcp.js';
import { LinkError, type Wiring } from './wiring.js';

/** The ports, network and files of this computer. */
export const realWiring: Wiring = {
  open: (target) => (target.kind === 'serial' ? openSerial(target) : openTcp(target)),
  async readText(path) {
    try {
      return await readFile(path, 'utf8');
    } catch (error) {
      const { code, message } = error as NodeJS.ErrnoException;
      throw code === 'ENOENT'
        ? new LinkError('missing', `${path} is not there`, { cause: error })
        : new LinkError(code === 'EACCES' ? 'denied' : 'unusable', `${path} cannot be read (${message})`, { cause: error });
    }
  },
};
