#!/usr/bin/env node
// From a checkout: installs and builds what is out of date, then runs the command. Installed: runs the command.
import './node-version.mjs';
import { pathToFileURL } from 'node:url';
import { inRoot, isCheckout } from './places.mjs';

if (isCheckout) {
  const { ensureInstalled } = await import('./install.mjs');
  ensureInstalled();
  const { ensureBuilt } = await import('./build.mjs');
  try {
    await ensureBuilt({ withPages: ['demo', 'start'].includes(process.argv[2]) });
  } catch (error) {
    console.error(`Dwellkeeper could not be built: ${error.message}`);
    process.exit(70);
  }
}

await import(pathToFileURL(inRoot('dist', 'cli', 'main.js')).href);
