import { mergeBlocks } from '../records/merge-blocks.js';
import { answerInThread } from '../threads/answer-in-thread.js';

// What is thrown in a callback of a promise makes it a rejected one.
answerInThread((contents: readonly Uint8Array[]) => Promise.resolve(contents).then(mergeBlocks));
