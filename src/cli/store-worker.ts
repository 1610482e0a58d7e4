import { doChore, type Chore } from '../records/chores.js';
import { answerInThread } from '../threads/answer-in-thread.js';

// What is thrown in a callback of a promise makes it a rejected one.
answerInThread((chore: Chore) => Promise.resolve(chore).then(doChore));
