import type { ThresholdKey } from './written-thresholds.js';

/**
 * Values that a proposal chooses from, by threshold. Wide enough for stiff short hoses and soft long ones (common
 * practice), coarse enough that a few dozen labelled runs can tell neighbours apart.
 */
export const proposalGrid: Readonly<Partial<Record<ThresholdKey, readonly string[]>>> = {
  quietTime: ['3 s', '5 s', '8 s', '10 s', '15 s', '20 s'],
  settleWindow: ['5 s', '10 s', '15 s', '20 s'],
  settleSlope: ['0.1 %/min', '0.2 %/min', '0.3 %/min', '0.5 %/min', '1 %/min', '2 %/min'],
  settleTimeout: ['60 s', '120 s', '240 s'],
  topUpHeight: ['0.1 %', '0.15 %', '0.25 %', '0.5 %', '1 %'],
  burstFraction: ['10 %', '20 %', '30 %', '45 %'],
  breachTime: ['0.2 s', '1 s', '3 s'],
  spikeHeight: ['0.5 %', '0.7 %', '1 %', '1.5 %', '2 %', '3 %'],
  spikeWidth: ['0.1 s', '0.25 s', '0.5 s'],
};
