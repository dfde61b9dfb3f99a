-- ───────────── goods before dyeing ─────────────
-- What a recipe's colour starts from. One reading for each kind of goods: the newest takes the place of the one before, since
-- a model is learned from the whole library anew each time.
CREATE TABLE undyed_goods (
  fibre_id INTEGER PRIMARY KEY REFERENCES fibres (id),
  l REAL NOT NULL CHECK (l BETWEEN 0 AND 110),
  a REAL NOT NULL CHECK (a BETWEEN -200 AND 200),
  b REAL NOT NULL CHECK (b BETWEEN -200 AND 200),
  illuminant TEXT NOT NULL CHECK (illuminant IN ('D65', 'D50', 'A')),
  observer TEXT NOT NULL CHECK (observer IN ('2', '10')),
  read_at INTEGER NOT NULL,
  read_by INTEGER NOT NULL REFERENCES people (id)
) STRICT;
--> statement-breakpoint

-- ───────────── sampling: sets of small pieces by stock solution ─────────────
CREATE TABLE sampling_plans (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL CHECK (length(trim(name)) > 0),
  kind TEXT NOT NULL CHECK (kind IN ('depthLadder', 'blendLadder', 'triangle', 'recipes')),
  fibre_id INTEGER NOT NULL REFERENCES fibres (id),
  method_id INTEGER NOT NULL REFERENCES methods (id),
  -- Dry mass of one piece.
  piece_mass_mg INTEGER NOT NULL CHECK (piece_mass_mg > 0),
  -- Liquor of one cup; NULL where cups are not made up with water.
  liquor_ml_per_kg INTEGER CHECK (liquor_ml_per_kg > 0),
  -- More stock to make than the cups take.
  reserve_ppm INTEGER NOT NULL CHECK (reserve_ppm BETWEEN 0 AND 1000000),
  -- How the pieces lie on the sheet, row by row.
  grid_columns INTEGER NOT NULL CHECK (grid_columns BETWEEN 1 AND 40),
  note TEXT NOT NULL DEFAULT '',
  made_at INTEGER NOT NULL,
  made_by INTEGER NOT NULL REFERENCES people (id),
  archived_at INTEGER
) STRICT;
--> statement-breakpoint
CREATE TABLE sampling_stocks (
  plan_id INTEGER NOT NULL REFERENCES sampling_plans (id),
  ordinal INTEGER NOT NULL CHECK (ordinal >= 1),
  dye_id INTEGER NOT NULL REFERENCES dyes (id),
  -- Stock solution, % w/v in ppm.
  conc_ppm INTEGER NOT NULL CHECK (conc_ppm BETWEEN 1 AND 1000000),
  PRIMARY KEY (plan_id, ordinal),
  UNIQUE (plan_id, dye_id)
) STRICT;
--> statement-breakpoint
CREATE TABLE sampling_pieces (
  id INTEGER PRIMARY KEY,
  plan_id INTEGER NOT NULL REFERENCES sampling_plans (id),
  ordinal INTEGER NOT NULL CHECK (ordinal >= 1),
  depth_ppm INTEGER NOT NULL CHECK (depth_ppm BETWEEN 1 AND 2000000),
  -- JSON list: share of each of the plan's stocks, in their order, ppm; they add to 1 000 000.
  shares_ppm TEXT NOT NULL CHECK (json_valid(shares_ppm)),
  -- What came out, until it is kept as a swatch and after.
  l REAL CHECK (l BETWEEN 0 AND 110),
  a REAL CHECK (a BETWEEN -200 AND 200),
  b REAL CHECK (b BETWEEN -200 AND 200),
  illuminant TEXT CHECK (illuminant IN ('D65', 'D50', 'A')),
  observer TEXT CHECK (observer IN ('2', '10')),
  source TEXT CHECK (source IN ('instrument', 'photoWithCard', 'typed')),
  as_typed TEXT NOT NULL DEFAULT '',
  uncertainty_milli INTEGER CHECK (uncertainty_milli >= 0),
  photo_id INTEGER REFERENCES photos (id),
  swatch_id INTEGER UNIQUE REFERENCES swatches (id),
  UNIQUE (plan_id, ordinal),
  CHECK ((l IS NULL) = (a IS NULL) AND (l IS NULL) = (b IS NULL) AND (l IS NULL) = (illuminant IS NULL)
    AND (l IS NULL) = (observer IS NULL) AND (l IS NULL) = (source IS NULL)),
  CHECK (swatch_id IS NULL OR l IS NOT NULL)
) STRICT;
--> statement-breakpoint
-- What became a swatch stands; a wrong reading is withdrawn at the swatch.
CREATE TRIGGER sampling_pieces_kept BEFORE UPDATE ON sampling_pieces WHEN OLD.swatch_id IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'this sample is a swatch already'); END;
--> statement-breakpoint
CREATE TRIGGER sampling_pieces_formula BEFORE UPDATE ON sampling_pieces
  WHEN NEW.depth_ppm <> OLD.depth_ppm OR NEW.shares_ppm <> OLD.shares_ppm OR NEW.plan_id <> OLD.plan_id OR NEW.ordinal <> OLD.ordinal
  BEGIN SELECT RAISE(ABORT, 'the plan of a sample never changes'); END;
