-- Ways in that the owner opens for somebody: a link for a new person, a link for a new passphrase, a short code for a bench
-- device. Each works once and for a while; only the hash of its secret is kept.
CREATE TABLE invitations (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('person', 'passphrase', 'bench')),
  token_hash TEXT NOT NULL UNIQUE,
  -- Whom it lets in; null while the person is still to come.
  person_id INTEGER REFERENCES people (id),
  -- What the new person will be.
  role TEXT CHECK (role IN ('owner', 'dyer', 'viewer')),
  labour_rate_minor_per_hour INTEGER CHECK (labour_rate_minor_per_hour >= 0),
  note TEXT NOT NULL DEFAULT '',
  made_at INTEGER NOT NULL,
  made_by INTEGER NOT NULL REFERENCES people (id),
  expires_at INTEGER NOT NULL,
  used_at INTEGER,
  revoked_at INTEGER,
  CHECK ((kind = 'person') = (role IS NOT NULL)),
  CHECK (kind = 'person' OR person_id IS NOT NULL)
) STRICT;
--> statement-breakpoint
CREATE INDEX invitations_person ON invitations (person_id) WHERE person_id IS NOT NULL;
--> statement-breakpoint

-- Who changed what by which door. What happens at the bench stands in the production log and the stock ledger, which
-- are append-only themselves, and is not written twice.
CREATE TABLE audit_entries (
  id INTEGER PRIMARY KEY,
  at INTEGER NOT NULL,
  -- Null when nobody was signed in, or a command on the server did it.
  person_id INTEGER REFERENCES people (id),
  token_id INTEGER REFERENCES api_tokens (id),
  door TEXT NOT NULL CHECK (door IN ('page', 'api', 'command')),
  -- 'POST /fibres/:id', and the address with the ids in it, without its query.
  action TEXT NOT NULL,
  path TEXT NOT NULL DEFAULT '',
  status INTEGER NOT NULL,
  detail TEXT NOT NULL DEFAULT '',
  address TEXT NOT NULL DEFAULT ''
) STRICT;
--> statement-breakpoint
CREATE INDEX audit_entries_person ON audit_entries (person_id, id) WHERE person_id IS NOT NULL;
--> statement-breakpoint
CREATE TRIGGER audit_entries_no_update BEFORE UPDATE ON audit_entries BEGIN SELECT RAISE(ABORT, 'what was done is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER audit_entries_no_delete BEFORE DELETE ON audit_entries BEGIN SELECT RAISE(ABORT, 'what was done is never rewritten'); END;
--> statement-breakpoint

-- ───────────── backups ─────────────
CREATE TABLE backup_settings (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  daily INTEGER NOT NULL DEFAULT 1 CHECK (daily IN (0, 1)),
  -- In the studio's zone.
  daily_at TEXT NOT NULL DEFAULT '03:30' CHECK (daily_at GLOB '[0-2][0-9]:[0-5][0-9]'),
  keep_count INTEGER NOT NULL DEFAULT 14 CHECK (keep_count BETWEEN 1 AND 1000),
  warn_after_hours INTEGER NOT NULL DEFAULT 48 CHECK (warn_after_hours BETWEEN 1 AND 8760),
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint
INSERT INTO backup_settings (id) VALUES (1);
--> statement-breakpoint
CREATE TABLE backup_runs (
  id INTEGER PRIMARY KEY,
  how TEXT NOT NULL CHECK (how IN ('daily', 'button', 'command')),
  started_at INTEGER NOT NULL,
  finished_at INTEGER,
  -- Whole path. Where an archive of the backup folder was thinned out, removed_at says when.
  file TEXT NOT NULL,
  byte_size INTEGER CHECK (byte_size > 0),
  sha256 TEXT CHECK (length(sha256) = 64),
  made_by INTEGER REFERENCES people (id),
  -- '' is a good one.
  failure TEXT NOT NULL DEFAULT '',
  removed_at INTEGER
) STRICT;
--> statement-breakpoint
CREATE INDEX backup_runs_finished ON backup_runs (finished_at);
--> statement-breakpoint

-- ───────────── imports ─────────────
-- A file that was sent and is being looked at: its columns not yet named, or its rows not yet accepted.
CREATE TABLE import_drafts (
  id TEXT PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('customers', 'fibres', 'dyes', 'auxiliaries', 'stock', 'swatches')),
  file_name TEXT NOT NULL,
  content BLOB NOT NULL,
  choices_json TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(choices_json)),
  made_at INTEGER NOT NULL,
  made_by INTEGER NOT NULL REFERENCES people (id)
) STRICT;
--> statement-breakpoint
CREATE TABLE imports (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('customers', 'fibres', 'dyes', 'auxiliaries', 'stock', 'swatches')),
  file_name TEXT NOT NULL,
  row_count INTEGER NOT NULL CHECK (row_count >= 0),
  made_at INTEGER NOT NULL,
  made_by INTEGER NOT NULL REFERENCES people (id),
  -- 1 only inside the transaction that takes the import back.
  undoing INTEGER NOT NULL DEFAULT 0 CHECK (undoing IN (0, 1)),
  undone_at INTEGER,
  undone_by INTEGER REFERENCES people (id)
) STRICT;
--> statement-breakpoint
CREATE TRIGGER imports_no_delete BEFORE DELETE ON imports BEGIN SELECT RAISE(ABORT, 'an import is taken back, never erased'); END;
--> statement-breakpoint
CREATE TABLE import_rows (
  import_id INTEGER NOT NULL REFERENCES imports (id),
  thing TEXT NOT NULL CHECK (thing IN ('customer', 'fibre', 'dye', 'auxiliary', 'method', 'stockLot', 'recipe', 'revision', 'swatch')),
  thing_id INTEGER NOT NULL,
  -- Line of the file; null for what a row needed and brought with it.
  line INTEGER,
  PRIMARY KEY (import_id, thing, thing_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
CREATE INDEX import_rows_thing ON import_rows (thing, thing_id);
--> statement-breakpoint

-- What an import brought may leave with it, as long as nothing stands on it, which the foreign keys see to. For anything
-- else these rows stay what they were: never deleted.
DROP TRIGGER recipe_revisions_no_delete;
--> statement-breakpoint
CREATE TRIGGER recipe_revisions_no_delete BEFORE DELETE ON recipe_revisions
  WHEN NOT EXISTS (SELECT 1 FROM import_rows r JOIN imports i ON i.id = r.import_id WHERE r.thing = 'revision' AND r.thing_id = OLD.id AND i.undoing = 1)
  BEGIN SELECT RAISE(ABORT, 'a recipe revision never changes'); END;
--> statement-breakpoint
DROP TRIGGER recipe_components_no_delete;
--> statement-breakpoint
CREATE TRIGGER recipe_components_no_delete BEFORE DELETE ON recipe_components
  WHEN NOT EXISTS (SELECT 1 FROM import_rows r JOIN imports i ON i.id = r.import_id WHERE r.thing = 'revision' AND r.thing_id = OLD.revision_id AND i.undoing = 1)
  BEGIN SELECT RAISE(ABORT, 'a recipe revision never changes'); END;
--> statement-breakpoint
DROP TRIGGER stock_ledger_no_delete;
--> statement-breakpoint
CREATE TRIGGER stock_ledger_no_delete BEFORE DELETE ON stock_ledger
  WHEN OLD.kind <> 'receipt'
    OR NOT EXISTS (SELECT 1 FROM import_rows r JOIN imports i ON i.id = r.import_id WHERE r.thing = 'stockLot' AND r.thing_id = OLD.stock_lot_id AND i.undoing = 1)
    OR EXISTS (SELECT 1 FROM stock_ledger o WHERE o.stock_lot_id = OLD.stock_lot_id AND o.id <> OLD.id)
  BEGIN SELECT RAISE(ABORT, 'the stock ledger is append-only'); END;
--> statement-breakpoint

-- ───────────── spectra ─────────────
-- Reflectance of a swatch as a spectrophotometer gave it: a JSON list of factors (1 = all light), from start_nm in steps of step_nm.
CREATE TABLE swatch_spectra (
  swatch_id INTEGER PRIMARY KEY REFERENCES swatches (id),
  start_nm INTEGER NOT NULL CHECK (start_nm BETWEEN 300 AND 500),
  step_nm INTEGER NOT NULL CHECK (step_nm IN (5, 10, 20)),
  reflectance TEXT NOT NULL CHECK (json_valid(reflectance)),
  measured_at INTEGER NOT NULL
) STRICT;
