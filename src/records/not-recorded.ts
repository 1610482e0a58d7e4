export { notRecorded } from '../core/judging/not-recorded.js';
