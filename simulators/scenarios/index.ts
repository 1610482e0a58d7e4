import type { Scenario } from '../scenario.js';
import { brokenOff } from './broken-off.js';
import { doubtful } from './doubtful-data.js';
import { leaking } from './leaking.js';
import { passing } from './passing.js';
import { peaks } from './peaks.js';
import { repeated } from './repeated.js';

/** Every scenario family, by theme. Names are unique. */
export const scenarios: readonly Scenario[] = [...passing, ...leaking, ...peaks, ...brokenOff, ...repeated, ...doubtful];
