-- ───────────── reference cards that the studio measured itself ─────────────
-- Never edited: what was read from a photo with a card must stay explicable. A card measured anew is a new card, the old
-- one is put away.
CREATE TABLE reference_cards (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(name)) > 0),
  patch_columns INTEGER NOT NULL CHECK (patch_columns BETWEEN 1 AND 40),
  patch_rows INTEGER NOT NULL CHECK (patch_rows BETWEEN 1 AND 40),
  illuminant TEXT NOT NULL CHECK (illuminant IN ('D65', 'D50', 'A')),
  observer TEXT NOT NULL CHECK (observer IN ('2', '10')),
  -- JSON: [{ name, l, a, b }] row by row from the upper left, as measured under these conditions.
  patches TEXT NOT NULL CHECK (json_valid(patches) AND json_array_length(patches) = patch_columns * patch_rows),
  note TEXT NOT NULL DEFAULT '',
  made_at INTEGER NOT NULL,
  made_by INTEGER NOT NULL REFERENCES people (id),
  archived_at INTEGER,
  -- Four corners do not place a card of one row.
  CHECK (patch_columns * patch_rows = 1 OR (patch_columns > 1 AND patch_rows > 1))
) STRICT;
--> statement-breakpoint

-- The photo that a colour was read from.
ALTER TABLE colour_readings ADD COLUMN photo_id INTEGER REFERENCES photos (id);
--> statement-breakpoint

-- ───────────── which swatches changed since ─────────────
-- The library of colours is held in memory; with this it reads again only what changed, whoever wrote it, and a write that
-- was rolled back never shows.
CREATE TABLE swatch_changes (
  swatch_id INTEGER PRIMARY KEY REFERENCES swatches (id),
  sequence INTEGER NOT NULL UNIQUE
) STRICT;
--> statement-breakpoint
CREATE TRIGGER colour_readings_made AFTER INSERT ON colour_readings WHEN new.swatch_id IS NOT NULL
BEGIN
  INSERT INTO swatch_changes (swatch_id, sequence)
    VALUES (new.swatch_id, (SELECT coalesce(max(sequence), 0) + 1 FROM swatch_changes))
    ON CONFLICT (swatch_id) DO UPDATE SET sequence = excluded.sequence;
END;
--> statement-breakpoint
CREATE TRIGGER colour_readings_changed AFTER UPDATE ON colour_readings WHEN new.swatch_id IS NOT NULL
BEGIN
  INSERT INTO swatch_changes (swatch_id, sequence)
    VALUES (new.swatch_id, (SELECT coalesce(max(sequence), 0) + 1 FROM swatch_changes))
    ON CONFLICT (swatch_id) DO UPDATE SET sequence = excluded.sequence;
END;
--> statement-breakpoint
CREATE TRIGGER swatches_changed AFTER UPDATE OF archived_at, revision_id, depth_ppm, fibre_id, method_id ON swatches
BEGIN
  INSERT INTO swatch_changes (swatch_id, sequence)
    VALUES (new.id, (SELECT coalesce(max(sequence), 0) + 1 FROM swatch_changes))
    ON CONFLICT (swatch_id) DO UPDATE SET sequence = excluded.sequence;
END;
