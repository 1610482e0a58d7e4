import { closeCode, protocolVersion, reconnectAfter, staleAfter } from '../../sinks/live-protocol.js';

/** The live data in words: OpenAPI has none for a WebSocket. */
export const liveWords = `A WebSocket (RFC 6455) with the state of one bench and every sample of its pressure channel; protocol ${protocolVersion}. The request must name the page it comes from (header Origin) and, at a bench with people, carry the cookie of a session.

Text messages are JSON objects with a \`kind\`. They tell states, so that one that was lost is made good by the next.

1. The server greets: \`{"kind": "hello", "protocol", "session", "bench", "unit", "setup"}\`. A new \`session\` means that the daemon began anew; sequence numbers count within a session.
2. The client answers \`{"kind": "follow", "session": SESSION, "after": NUMBER or null}\`: the last sequence number that it has of that session.
3. The server sends a \`snapshot\` (\`view\`, \`events\`, \`runs\`, \`health\`, \`setup\`, \`newest\`), then the missing samples that it still has, then goes live: \`view\`, \`event\`, \`runs\` and \`setup\` as they change.
4. Each side sends a \`heartbeat\` every second: the client \`{"kind": "heartbeat", "at": ms on its own clock}\`, the server with \`newest\`, \`health\` and \`echo\` (\`at\` of the client's last one, and \`held\`, ms since it came in; null before the first). Data are stale after ${staleAfter} s of silence; connect anew after ${reconnectAfter} s.

Samples are binary frames, little-endian, without a hole within one: \`DWs\` and the byte 1; number n of samples (uint32); sequence number of the first (float64); its time in s (float64); age of the newest when it was sent in ms (uint32, all ones where not known); n times since the first in microseconds (int32); n pressures in bar (float32, NaN for a missing one); n flags (uint8, 0 is a good sample).

The server closes the connection with ${closeCode.badMessage} after a message that is none of these, ${closeCode.signedOut} when the session ends, ${closeCode.tooSlow} when the client does not keep up, ${closeCode.stopping} when the daemon stops.`;
