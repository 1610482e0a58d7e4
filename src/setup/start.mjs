// npm start: everything from a bare checkout to the simulated bench in the browser. Arguments go to the demo.
process.argv.splice(2, 0, 'demo');
await import('./dwellkeeper.mjs');
