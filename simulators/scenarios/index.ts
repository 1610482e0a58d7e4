import type { Scenario } from '../scenario.js';
import { passing } from './passing.js';

/** Every scenario family, by theme. Names are unique. */
export const scenarios: readonly Scenario[] = [...passing];
