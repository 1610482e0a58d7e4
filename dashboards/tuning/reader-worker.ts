import { ReadingDesk } from './reading-desk.js';
import type { ToReader } from './reading-messages.js';

const desk = new ReadingDesk((message) => self.postMessage(message));

// A message to itself lets those of the page in between two steps, and takes no time as a timer would.
const again = new MessageChannel();
let working = false;
again.port1.onmessage = () => {
  working = desk.step();
  if (working) again.port2.postMessage(null);
};

self.addEventListener('message', (event: MessageEvent<ToReader>) => {
  desk.take(event.data);
  if (working) return;
  working = true;
  again.port2.postMessage(null);
});
