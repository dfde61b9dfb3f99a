-- What was tried to find out whether the record would come back: the running database, checked whole each day, and the newest archive,
-- restored each week into a folder that is thrown away. Written when a trial has ended; one that the service did not see the end of
-- is made again.
CREATE TABLE trials (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('database', 'archive')),
  started_at INTEGER NOT NULL,
  finished_at INTEGER NOT NULL,
  -- What was tried: whole path.
  file TEXT NOT NULL,
  -- '' is passed.
  failure TEXT NOT NULL DEFAULT ''
) STRICT;
--> statement-breakpoint
CREATE INDEX trials_kind ON trials (kind, id);
--> statement-breakpoint
CREATE TRIGGER trials_no_update BEFORE UPDATE ON trials BEGIN SELECT RAISE(ABORT, 'what a trial found is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER trials_no_delete BEFORE DELETE ON trials BEGIN SELECT RAISE(ABORT, 'what a trial found is never rewritten'); END;
--> statement-breakpoint
-- That this studio came out of an archive. Until an owner has come in with the code of the terminal, nobody else can.
CREATE TABLE restores (
  id INTEGER PRIMARY KEY,
  restored_at INTEGER NOT NULL,
  archive TEXT NOT NULL,
  archive_made_at INTEGER NOT NULL,
  -- Where the studio that was replaced is kept; null when there was none.
  kept_in TEXT,
  -- Whether its people could be read, to compare their standing with.
  compared INTEGER NOT NULL CHECK (compared IN (0, 1)),
  opened_at INTEGER,
  opened_by INTEGER REFERENCES people (id),
  -- When an owner has said that everybody's standing is as it should be.
  settled_at INTEGER,
  CHECK (compared = 0 OR kept_in IS NOT NULL),
  CHECK ((opened_at IS NULL) = (opened_by IS NULL)),
  CHECK (settled_at IS NULL OR opened_at IS NOT NULL)
) STRICT;
--> statement-breakpoint
CREATE TRIGGER restores_once BEFORE UPDATE ON restores
  WHEN OLD.settled_at IS NOT NULL OR (OLD.opened_at IS NOT NULL AND NEW.opened_at IS NOT OLD.opened_at)
  BEGIN SELECT RAISE(ABORT, 'a restored studio is opened and settled once'); END;
--> statement-breakpoint
CREATE TRIGGER restores_no_delete BEFORE DELETE ON restores BEGIN SELECT RAISE(ABORT, 'a restore is never forgotten'); END;
--> statement-breakpoint
-- Whose standing differs between the archive and the studio that it replaced. Null where they are not known there.
CREATE TABLE restored_standings (
  restore_id INTEGER NOT NULL REFERENCES restores (id),
  ordinal INTEGER NOT NULL,
  name TEXT NOT NULL,
  person_id INTEGER REFERENCES people (id),
  archive_role TEXT CHECK (archive_role IN ('owner', 'dyer', 'viewer', 'bench')),
  archive_active INTEGER CHECK (archive_active IN (0, 1)),
  replaced_role TEXT CHECK (replaced_role IN ('owner', 'dyer', 'viewer', 'bench')),
  replaced_active INTEGER CHECK (replaced_active IN (0, 1)),
  PRIMARY KEY (restore_id, ordinal),
  CHECK ((archive_role IS NULL) = (archive_active IS NULL) AND (replaced_role IS NULL) = (replaced_active IS NULL)),
  CHECK ((person_id IS NULL) = (archive_role IS NULL)),
  CHECK (archive_role IS NOT NULL OR replaced_role IS NOT NULL)
) STRICT, WITHOUT ROWID;
