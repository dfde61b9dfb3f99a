// Loaded before a service that the tests start as root: it gives root up when the service turns to its data folder, and has
// read its own files by then. Started as somebody else, it could not even read them where the clone lies in a private folder.
import fs from 'node:fs';
import { syncBuiltinESMExports } from 'node:module';
import Database from 'better-sqlite3';

/** The user that owns nothing. */
const NOBODY = 65_534;

// The binding is loaded with the first database.
new Database(':memory:').close();
const { mkdirSync } = fs;
fs.mkdirSync = (path, ...more) => {
  if (path === process.env.DATA_DIR && process.getuid() === 0) {
    process.setgroups([NOBODY]);
    process.setgid(NOBODY);
    process.setuid(NOBODY);
  }
  return mkdirSync(path, ...more);
};
syncBuiltinESMExports();
