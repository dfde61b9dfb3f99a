-- The whole model of the main job: library, plan, bench, finish, stock, cost, order.
-- Why so strict here: the record is the studio's capital. What must never happen (an edited ledger, a rewritten
-- log, a finished lot that changes) is refused by the database itself, whoever asks.
-- Units: mg, µL, money in the currency's minor unit, ppm (1 % = 10 000 ppm), seconds, epoch milliseconds UTC (_at),
-- calendar days 'YYYY-MM-DD' (_on).

-- ───────────── the studio and its people ─────────────
CREATE TABLE people (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(name)) > 0),
  role TEXT NOT NULL CHECK (role IN ('owner', 'dyer', 'viewer', 'bench')),
  passphrase_hash TEXT,
  labour_rate_minor_per_hour INTEGER CHECK (labour_rate_minor_per_hour >= 0),
  active INTEGER NOT NULL DEFAULT 1 CHECK (active IN (0, 1)),
  created_at INTEGER NOT NULL
) STRICT;
--> statement-breakpoint

CREATE TABLE studio (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  name TEXT NOT NULL CHECK (length(trim(name)) > 0),
  currency TEXT NOT NULL CHECK (length(currency) = 3),
  zone TEXT NOT NULL,
  units TEXT NOT NULL CHECK (units IN ('metric', 'us')),
  labour_rate_minor_per_hour INTEGER NOT NULL CHECK (labour_rate_minor_per_hour >= 0),
  overhead_rate_minor_per_hour INTEGER NOT NULL CHECK (overhead_rate_minor_per_hour >= 0),
  weighing_tolerance_ppm INTEGER NOT NULL CHECK (weighing_tolerance_ppm BETWEEN 0 AND 500000),
  weighing_floor_ppm INTEGER NOT NULL CHECK (weighing_floor_ppm BETWEEN 100 AND 200000),
  stock_conc_ppm INTEGER NOT NULL CHECK (stock_conc_ppm BETWEEN 100 AND 200000),
  costing TEXT NOT NULL DEFAULT 'specific' CHECK (costing IN ('specific', 'movingAverage')),
  sample INTEGER NOT NULL DEFAULT 0 CHECK (sample IN (0, 1)),
  created_at INTEGER NOT NULL,
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint

CREATE TABLE scales (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE,
  readability_mg INTEGER NOT NULL CHECK (readability_mg > 0),
  capacity_mg INTEGER CHECK (capacity_mg > 0),
  is_default INTEGER NOT NULL DEFAULT 0 CHECK (is_default IN (0, 1))
) STRICT;
--> statement-breakpoint
CREATE UNIQUE INDEX scales_one_default ON scales (is_default) WHERE is_default = 1;
--> statement-breakpoint

CREATE TABLE sign_ins (
  token_hash TEXT PRIMARY KEY,
  person_id INTEGER NOT NULL REFERENCES people (id),
  created_at INTEGER NOT NULL,
  last_seen_at INTEGER NOT NULL,
  expires_at INTEGER NOT NULL,
  device TEXT NOT NULL DEFAULT '',
  revoked_at INTEGER
) STRICT;
--> statement-breakpoint
CREATE INDEX sign_ins_person ON sign_ins (person_id);
--> statement-breakpoint

CREATE TABLE sign_in_attempts (
  id INTEGER PRIMARY KEY,
  account TEXT NOT NULL,
  address TEXT NOT NULL,
  at INTEGER NOT NULL,
  succeeded INTEGER NOT NULL CHECK (succeeded IN (0, 1))
) STRICT;
--> statement-breakpoint
CREATE INDEX sign_in_attempts_account ON sign_in_attempts (account, at);
--> statement-breakpoint
CREATE INDEX sign_in_attempts_address ON sign_in_attempts (address, at);
--> statement-breakpoint

CREATE TABLE api_tokens (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL CHECK (length(trim(name)) > 0),
  token_hash TEXT NOT NULL UNIQUE,
  person_id INTEGER NOT NULL REFERENCES people (id),
  scope TEXT NOT NULL CHECK (scope IN ('read', 'write')),
  created_at INTEGER NOT NULL,
  expires_at INTEGER,
  last_used_at INTEGER,
  revoked_at INTEGER
) STRICT;
--> statement-breakpoint

-- ───────────── goods, colourants, auxiliaries ─────────────
CREATE TABLE fibres (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(name)) > 0),
  class TEXT NOT NULL CHECK (class IN ('cellulose', 'protein', 'polyamide', 'polyester', 'acetate', 'acrylic', 'blend')),
  kind TEXT NOT NULL CHECK (kind IN ('cloth', 'yarn')),
  construction TEXT NOT NULL DEFAULT '',
  areal_mass_mg_per_m2 INTEGER CHECK (areal_mass_mg_per_m2 > 0),
  width_mm INTEGER CHECK (width_mm > 0),
  count_text TEXT NOT NULL DEFAULT '',
  tex_milli INTEGER CHECK (tex_milli > 0),
  put_up_mass_mg INTEGER CHECK (put_up_mass_mg > 0),
  put_up_length_mm INTEGER CHECK (put_up_length_mm > 0),
  regain_ppm INTEGER CHECK (regain_ppm BETWEEN 0 AND 500000),
  shrink_length_ppm INTEGER NOT NULL DEFAULT 0 CHECK (shrink_length_ppm BETWEEN 0 AND 900000),
  shrink_width_ppm INTEGER NOT NULL DEFAULT 0 CHECK (shrink_width_ppm BETWEEN 0 AND 900000),
  uptake_ppm INTEGER NOT NULL DEFAULT 1000000 CHECK (uptake_ppm BETWEEN 100000 AND 10000000),
  cost_minor_per_kg INTEGER CHECK (cost_minor_per_kg >= 0),
  note TEXT NOT NULL DEFAULT '',
  archived_at INTEGER,
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint

CREATE TABLE fibre_parts (
  fibre_id INTEGER NOT NULL REFERENCES fibres (id),
  ordinal INTEGER NOT NULL,
  name TEXT NOT NULL,
  share_ppm INTEGER NOT NULL CHECK (share_ppm BETWEEN 1 AND 1000000),
  regain_ppm INTEGER NOT NULL CHECK (regain_ppm BETWEEN 0 AND 500000),
  PRIMARY KEY (fibre_id, ordinal)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint

CREATE TABLE dyes (
  id INTEGER PRIMARY KEY,
  code TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(code)) > 0),
  name TEXT NOT NULL CHECK (length(trim(name)) > 0),
  class TEXT NOT NULL CHECK (class IN ('reactive', 'acid', 'metalComplex', 'direct', 'basic', 'disperse', 'vat', 'natural')),
  ci_name TEXT NOT NULL DEFAULT '',
  single_colourant INTEGER NOT NULL DEFAULT 1 CHECK (single_colourant IN (0, 1)),
  pale_ppm INTEGER CHECK (pale_ppm > 0),
  medium_ppm INTEGER CHECK (medium_ppm > 0),
  deep_ppm INTEGER CHECK (deep_ppm > 0),
  solution_life_days INTEGER CHECK (solution_life_days > 0),
  shown_hex TEXT CHECK (shown_hex IS NULL OR (length(shown_hex) = 7 AND shown_hex GLOB '#[0-9a-f]*')),
  hazard_codes TEXT NOT NULL DEFAULT '',
  sds_url TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT '',
  archived_at INTEGER,
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint

CREATE TABLE auxiliaries (
  id INTEGER PRIMARY KEY,
  code TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(code)) > 0),
  name TEXT NOT NULL CHECK (length(trim(name)) > 0),
  form TEXT NOT NULL CHECK (form IN ('solid', 'liquid')),
  hydrate TEXT NOT NULL DEFAULT '',
  grade TEXT NOT NULL DEFAULT '',
  bulk_density_g_per_l INTEGER CHECK (bulk_density_g_per_l > 0),
  solution_conc_ppm INTEGER CHECK (solution_conc_ppm BETWEEN 1 AND 1000000),
  hazard_codes TEXT NOT NULL DEFAULT '',
  sds_url TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT '',
  archived_at INTEGER,
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint

-- ───────────── methods ─────────────
CREATE TABLE methods (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(name)) > 0),
  dye_class TEXT CHECK (dye_class IN ('reactive', 'acid', 'metalComplex', 'direct', 'basic', 'disperse', 'vat', 'natural')),
  summary TEXT NOT NULL DEFAULT '',
  bath_ml_per_kg INTEGER CHECK (bath_ml_per_kg > 0),
  soak_ml_per_kg INTEGER CHECK (soak_ml_per_kg > 0),
  loss_ppm INTEGER NOT NULL DEFAULT 0 CHECK (loss_ppm BETWEEN 0 AND 1000000),
  cautions TEXT NOT NULL DEFAULT '',
  archived_at INTEGER,
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint

CREATE TABLE method_steps (
  id INTEGER PRIMARY KEY,
  method_id INTEGER NOT NULL REFERENCES methods (id),
  ordinal INTEGER NOT NULL,
  name TEXT NOT NULL CHECK (length(trim(name)) > 0),
  duration_s INTEGER NOT NULL CHECK (duration_s >= 0),
  temp_c REAL CHECK (temp_c BETWEEN -20 AND 200),
  hands_on_s INTEGER NOT NULL DEFAULT 0 CHECK (hands_on_s >= 0),
  note TEXT NOT NULL DEFAULT '',
  UNIQUE (method_id, ordinal)
) STRICT;
--> statement-breakpoint

-- amount_milli: thousandths of the unit of the basis: % owg, g/L, mL/L, g, mL.
CREATE TABLE method_auxiliaries (
  id INTEGER PRIMARY KEY,
  method_id INTEGER NOT NULL REFERENCES methods (id),
  ordinal INTEGER NOT NULL,
  auxiliary_id INTEGER NOT NULL REFERENCES auxiliaries (id),
  vessel TEXT NOT NULL CHECK (vessel IN ('bath', 'soak')),
  basis TEXT NOT NULL CHECK (basis IN ('owg', 'gPerL', 'mlPerL', 'fixedMass', 'fixedVolume')),
  amount_milli INTEGER NOT NULL CHECK (amount_milli > 0),
  as_typed TEXT NOT NULL DEFAULT '',
  UNIQUE (method_id, ordinal)
) STRICT;
--> statement-breakpoint

CREATE TABLE method_fields (
  id INTEGER PRIMARY KEY,
  method_id INTEGER NOT NULL REFERENCES methods (id),
  ordinal INTEGER NOT NULL,
  label TEXT NOT NULL CHECK (length(trim(label)) > 0),
  kind TEXT NOT NULL CHECK (kind IN ('text', 'number', 'mass', 'temperature', 'duration', 'choice')),
  unit TEXT NOT NULL DEFAULT '',
  choices TEXT NOT NULL DEFAULT '',
  UNIQUE (method_id, ordinal)
) STRICT;
--> statement-breakpoint

-- ───────────── photos ─────────────
CREATE TABLE photos (
  id INTEGER PRIMARY KEY,
  sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64),
  width_px INTEGER NOT NULL CHECK (width_px > 0),
  height_px INTEGER NOT NULL CHECK (height_px > 0),
  byte_size INTEGER NOT NULL CHECK (byte_size > 0),
  stored_at INTEGER NOT NULL,
  stored_by INTEGER REFERENCES people (id)
) STRICT;
--> statement-breakpoint

-- ───────────── recipes: revisions never change ─────────────
CREATE TABLE recipes (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(name)) > 0),
  dye_class TEXT NOT NULL CHECK (dye_class IN ('reactive', 'acid', 'metalComplex', 'direct', 'basic', 'disperse', 'vat', 'natural')),
  note TEXT NOT NULL DEFAULT '',
  archived_at INTEGER,
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint

CREATE TABLE recipe_revisions (
  id INTEGER PRIMARY KEY,
  recipe_id INTEGER NOT NULL REFERENCES recipes (id),
  number INTEGER NOT NULL CHECK (number >= 1),
  entry_style TEXT NOT NULL CHECK (entry_style IN ('split', 'ownDepths')),
  total_depth_ppm INTEGER NOT NULL CHECK (total_depth_ppm BETWEEN 1 AND 2000000),
  why TEXT NOT NULL DEFAULT '',
  made_at INTEGER NOT NULL,
  made_by INTEGER NOT NULL REFERENCES people (id),
  UNIQUE (recipe_id, number)
) STRICT;
--> statement-breakpoint

CREATE TABLE recipe_components (
  revision_id INTEGER NOT NULL REFERENCES recipe_revisions (id),
  ordinal INTEGER NOT NULL,
  dye_id INTEGER NOT NULL REFERENCES dyes (id),
  share_ppm INTEGER NOT NULL CHECK (share_ppm BETWEEN 0 AND 1000000),
  depth_ppm INTEGER NOT NULL CHECK (depth_ppm BETWEEN 0 AND 2000000),
  PRIMARY KEY (revision_id, ordinal),
  UNIQUE (revision_id, dye_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
CREATE INDEX recipe_components_dye ON recipe_components (dye_id);
--> statement-breakpoint

CREATE TRIGGER recipe_revisions_no_update BEFORE UPDATE ON recipe_revisions BEGIN SELECT RAISE(ABORT, 'a recipe revision never changes'); END;
--> statement-breakpoint
CREATE TRIGGER recipe_revisions_no_delete BEFORE DELETE ON recipe_revisions BEGIN SELECT RAISE(ABORT, 'a recipe revision never changes'); END;
--> statement-breakpoint
CREATE TRIGGER recipe_components_no_update BEFORE UPDATE ON recipe_components BEGIN SELECT RAISE(ABORT, 'a recipe revision never changes'); END;
--> statement-breakpoint
CREATE TRIGGER recipe_components_no_delete BEFORE DELETE ON recipe_components BEGIN SELECT RAISE(ABORT, 'a recipe revision never changes'); END;
--> statement-breakpoint
-- Components are written with their revision; once a lot or a swatch stands on it, none may be added.
CREATE TRIGGER recipe_components_closed BEFORE INSERT ON recipe_components
  WHEN EXISTS (SELECT 1 FROM swatches WHERE revision_id = NEW.revision_id) OR EXISTS (SELECT 1 FROM lot_colours WHERE revision_id = NEW.revision_id)
  BEGIN SELECT RAISE(ABORT, 'a recipe revision never changes'); END;
--> statement-breakpoint

-- ───────────── customers and orders ─────────────
CREATE TABLE customers (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(name)) > 0),
  contact TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT '',
  archived_at INTEGER,
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint

CREATE TABLE orders (
  id INTEGER PRIMARY KEY,
  number TEXT NOT NULL UNIQUE,
  customer_id INTEGER NOT NULL REFERENCES customers (id),
  ordered_on TEXT NOT NULL CHECK (ordered_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  due_on TEXT CHECK (due_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  status TEXT NOT NULL CHECK (status IN ('open', 'inWork', 'ready', 'delivered', 'cancelled')),
  note TEXT NOT NULL DEFAULT '',
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint
CREATE INDEX orders_customer ON orders (customer_id);
--> statement-breakpoint
CREATE INDEX orders_due ON orders (status, due_on);
--> statement-breakpoint

CREATE TABLE order_lines (
  id INTEGER PRIMARY KEY,
  order_id INTEGER NOT NULL REFERENCES orders (id),
  ordinal INTEGER NOT NULL,
  description TEXT NOT NULL CHECK (length(trim(description)) > 0),
  fibre_id INTEGER REFERENCES fibres (id),
  pieces INTEGER CHECK (pieces > 0),
  dry_mass_mg INTEGER CHECK (dry_mass_mg > 0),
  wanted_swatch_id INTEGER REFERENCES swatches (id),
  wanted_revision_id INTEGER REFERENCES recipe_revisions (id),
  wanted_note TEXT NOT NULL DEFAULT '',
  tolerance_formula TEXT CHECK (tolerance_formula IN ('CIEDE2000', 'CMC(2:1)', 'CMC(1:1)', 'CIE76', 'by eye')),
  tolerance_milli INTEGER CHECK (tolerance_milli > 0),
  price_minor INTEGER CHECK (price_minor >= 0),
  UNIQUE (order_id, ordinal)
) STRICT;
--> statement-breakpoint
CREATE INDEX order_lines_swatch ON order_lines (wanted_swatch_id);
--> statement-breakpoint

-- ───────────── lots ─────────────
CREATE TABLE lots (
  id INTEGER PRIMARY KEY,
  number TEXT NOT NULL UNIQUE,
  status TEXT NOT NULL CHECK (status IN ('planned', 'onBench', 'finished', 'abandoned')),
  method_id INTEGER NOT NULL REFERENCES methods (id),
  fibre_id INTEGER NOT NULL REFERENCES fibres (id),
  goods_text TEXT NOT NULL,
  pieces INTEGER CHECK (pieces > 0),
  dry_mass_mg INTEGER NOT NULL CHECK (dry_mass_mg > 0),
  goods_owner TEXT NOT NULL CHECK (goods_owner IN ('studio', 'customer')),
  goods_stock_lot_id INTEGER REFERENCES stock_lots (id),
  mass_found TEXT NOT NULL CHECK (mass_found IN ('weighedDry', 'weighedDamp', 'fromArea', 'fromPutUps', 'stated')),
  coverage TEXT NOT NULL CHECK (coverage IN ('eachOverAll', 'eachOverItsShare')),
  bath_ul INTEGER CHECK (bath_ul > 0),
  soak_ul INTEGER CHECK (soak_ul > 0),
  loss_ppm INTEGER NOT NULL CHECK (loss_ppm >= 0),
  readability_mg INTEGER NOT NULL CHECK (readability_mg > 0),
  estimate_minor INTEGER NOT NULL CHECK (estimate_minor >= 0),
  plan_json TEXT NOT NULL CHECK (json_valid(plan_json)),
  planned_at INTEGER NOT NULL,
  planned_by INTEGER NOT NULL REFERENCES people (id),
  planned_for_on TEXT CHECK (planned_for_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  started_at INTEGER,
  finished_at INTEGER,
  repeats_lot_id INTEGER REFERENCES lots (id),
  CHECK ((status IN ('finished', 'abandoned')) = (finished_at IS NOT NULL))
) STRICT;
--> statement-breakpoint
CREATE INDEX lots_status ON lots (status, finished_at);
--> statement-breakpoint
CREATE INDEX lots_finished ON lots (finished_at);
--> statement-breakpoint
CREATE INDEX lots_fibre ON lots (fibre_id);
--> statement-breakpoint
CREATE INDEX lots_method ON lots (method_id);
--> statement-breakpoint

CREATE TABLE lot_lines (
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  order_line_id INTEGER NOT NULL REFERENCES order_lines (id),
  pieces INTEGER CHECK (pieces > 0),
  PRIMARY KEY (lot_id, order_line_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
CREATE INDEX lot_lines_order_line ON lot_lines (order_line_id);
--> statement-breakpoint

CREATE TABLE lot_colours (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  ordinal INTEGER NOT NULL,
  revision_id INTEGER NOT NULL REFERENCES recipe_revisions (id),
  swatch_id INTEGER REFERENCES swatches (id),
  depth_ppm INTEGER NOT NULL CHECK (depth_ppm BETWEEN 1 AND 2000000),
  share_ppm INTEGER NOT NULL CHECK (share_ppm BETWEEN 1 AND 1000000),
  placement TEXT NOT NULL DEFAULT '',
  UNIQUE (lot_id, ordinal)
) STRICT;
--> statement-breakpoint
CREATE INDEX lot_colours_revision ON lot_colours (revision_id);
--> statement-breakpoint
CREATE INDEX lot_colours_swatch ON lot_colours (swatch_id);
--> statement-breakpoint

-- One line of the weigh-up. exact_ug is the figure before the scale's rounding; planned_mass_mg or planned_volume_ul is
-- what to weigh or measure; step is the readability of its scale (mg) or the division of its measure (µL). A line served from stock solution has conc_ppm and a volume.
CREATE TABLE lot_components (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  ordinal INTEGER NOT NULL,
  lot_colour_id INTEGER REFERENCES lot_colours (id),
  kind TEXT NOT NULL CHECK (kind IN ('dye', 'auxiliary')),
  dye_id INTEGER REFERENCES dyes (id),
  auxiliary_id INTEGER REFERENCES auxiliaries (id),
  vessel TEXT CHECK (vessel IN ('bath', 'soak')),
  basis TEXT NOT NULL CHECK (basis IN ('owg', 'gPerL', 'mlPerL', 'fixedMass', 'fixedVolume')),
  exact_ug INTEGER CHECK (exact_ug >= 0),
  planned_mass_mg INTEGER CHECK (planned_mass_mg >= 0),
  planned_volume_ul INTEGER CHECK (planned_volume_ul >= 0),
  conc_ppm INTEGER CHECK (conc_ppm > 0),
  strength_ppm INTEGER NOT NULL DEFAULT 1000000 CHECK (strength_ppm > 0),
  step INTEGER NOT NULL CHECK (step > 0),
  stock_lot_id INTEGER REFERENCES stock_lots (id),
  UNIQUE (lot_id, ordinal),
  CHECK ((planned_mass_mg IS NULL) <> (planned_volume_ul IS NULL)),
  CHECK ((kind = 'dye') = (dye_id IS NOT NULL) AND (kind = 'auxiliary') = (auxiliary_id IS NOT NULL)),
  CHECK (conc_ppm IS NULL OR planned_volume_ul IS NOT NULL)
) STRICT;
--> statement-breakpoint
CREATE INDEX lot_components_dye ON lot_components (dye_id);
--> statement-breakpoint

CREATE TABLE lot_steps (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  ordinal INTEGER NOT NULL,
  name TEXT NOT NULL,
  planned_duration_s INTEGER NOT NULL CHECK (planned_duration_s >= 0),
  planned_temp_c REAL,
  planned_hands_on_s INTEGER NOT NULL CHECK (planned_hands_on_s >= 0),
  note TEXT NOT NULL DEFAULT '',
  UNIQUE (lot_id, ordinal)
) STRICT;
--> statement-breakpoint

-- The log: what happened, when it happened (at), when it reached us (recorded_at). A mistake is voided, never erased.
CREATE TABLE log_entries (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  client_id TEXT NOT NULL UNIQUE CHECK (length(client_id) BETWEEN 8 AND 64),
  kind TEXT NOT NULL CHECK (kind IN ('note', 'deviation', 'photo', 'temperature', 'reading', 'field', 'weighing', 'adjustment', 'discard',
    'stepStart', 'stepEnd', 'labour', 'start', 'finish', 'abandon', 'voiding', 'placement', 'voice')),
  step_id INTEGER REFERENCES lot_steps (id),
  refers_to_id INTEGER REFERENCES log_entries (id),
  text TEXT NOT NULL DEFAULT '',
  value_json TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(value_json)),
  photo_id INTEGER REFERENCES photos (id),
  at INTEGER NOT NULL,
  recorded_at INTEGER NOT NULL,
  by_person_id INTEGER NOT NULL REFERENCES people (id),
  CHECK ((kind IN ('voiding', 'discard')) = (refers_to_id IS NOT NULL)),
  CHECK ((kind IN ('stepStart', 'stepEnd')) <= (step_id IS NOT NULL))
) STRICT;
--> statement-breakpoint
CREATE INDEX log_entries_lot ON log_entries (lot_id, at);
--> statement-breakpoint
CREATE INDEX log_entries_step ON log_entries (step_id) WHERE step_id IS NOT NULL;
--> statement-breakpoint
CREATE UNIQUE INDEX log_entries_voided_once ON log_entries (refers_to_id) WHERE kind = 'voiding';
--> statement-breakpoint
CREATE TRIGGER log_entries_no_update BEFORE UPDATE ON log_entries BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;
--> statement-breakpoint
CREATE TRIGGER log_entries_no_delete BEFORE DELETE ON log_entries BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;
--> statement-breakpoint
CREATE TRIGGER log_entries_same_lot BEFORE INSERT ON log_entries
  WHEN (NEW.step_id IS NOT NULL AND (SELECT lot_id FROM lot_steps WHERE id = NEW.step_id) IS NOT NEW.lot_id)
    OR (NEW.refers_to_id IS NOT NULL AND (SELECT lot_id FROM log_entries WHERE id = NEW.refers_to_id) IS NOT NEW.lot_id)
  BEGIN SELECT RAISE(ABORT, 'a log entry refers to its own lot'); END;
--> statement-breakpoint

-- The ways out of an over-weighed line change the targets, never the plan.
CREATE TABLE lot_adjustments (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  log_entry_id INTEGER NOT NULL UNIQUE REFERENCES log_entries (id),
  way TEXT NOT NULL CHECK (way IN ('moreGoods', 'deeper', 'weighAgain', 'addOthersToBath', 'keepAsMade')),
  factor_ppm INTEGER NOT NULL CHECK (factor_ppm > 0),
  dry_mass_mg INTEGER NOT NULL CHECK (dry_mass_mg > 0)
) STRICT;
--> statement-breakpoint
CREATE INDEX lot_adjustments_lot ON lot_adjustments (lot_id);
--> statement-breakpoint

CREATE TABLE lot_targets (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  adjustment_id INTEGER NOT NULL REFERENCES lot_adjustments (id),
  component_id INTEGER NOT NULL REFERENCES lot_components (id),
  target_mass_mg INTEGER CHECK (target_mass_mg >= 0),
  target_volume_ul INTEGER CHECK (target_volume_ul >= 0),
  UNIQUE (adjustment_id, component_id),
  CHECK ((target_mass_mg IS NULL) <> (target_volume_ul IS NULL))
) STRICT;
--> statement-breakpoint
CREATE INDEX lot_targets_lot ON lot_targets (lot_id);
--> statement-breakpoint

CREATE TABLE weighings (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  component_id INTEGER NOT NULL REFERENCES lot_components (id),
  stock_lot_id INTEGER NOT NULL REFERENCES stock_lots (id),
  log_entry_id INTEGER NOT NULL UNIQUE REFERENCES log_entries (id),
  mass_mg INTEGER CHECK (mass_mg > 0),
  volume_ul INTEGER CHECK (volume_ul > 0),
  CHECK ((mass_mg IS NULL) <> (volume_ul IS NULL))
) STRICT;
--> statement-breakpoint
CREATE INDEX weighings_lot ON weighings (lot_id);
--> statement-breakpoint
CREATE INDEX weighings_stock_lot ON weighings (stock_lot_id);
--> statement-breakpoint
CREATE INDEX weighings_component ON weighings (component_id);
--> statement-breakpoint

CREATE TABLE lot_labour (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  log_entry_id INTEGER NOT NULL UNIQUE REFERENCES log_entries (id),
  step_id INTEGER REFERENCES lot_steps (id),
  person_id INTEGER NOT NULL REFERENCES people (id),
  duration_s INTEGER NOT NULL CHECK (duration_s > 0),
  rate_minor_per_hour INTEGER NOT NULL CHECK (rate_minor_per_hour >= 0)
) STRICT;
--> statement-breakpoint
CREATE INDEX lot_labour_lot ON lot_labour (lot_id);
--> statement-breakpoint

CREATE TABLE lot_outcomes (
  lot_id INTEGER PRIMARY KEY REFERENCES lots (id),
  first_quality INTEGER NOT NULL CHECK (first_quality >= 0),
  seconds INTEGER NOT NULL CHECK (seconds >= 0),
  rework INTEGER NOT NULL CHECK (rework >= 0),
  scrap INTEGER NOT NULL CHECK (scrap >= 0),
  seconds_value_minor INTEGER NOT NULL DEFAULT 0 CHECK (seconds_value_minor >= 0),
  note TEXT NOT NULL DEFAULT '',
  do_differently TEXT NOT NULL DEFAULT '',
  judged_at INTEGER NOT NULL,
  judged_by INTEGER NOT NULL REFERENCES people (id)
) STRICT;
--> statement-breakpoint

-- cost = round(quantity × price_minor / per_quantity): the rate is kept as the fraction it was, so anyone can check it.
CREATE TABLE cost_lines (
  id INTEGER PRIMARY KEY,
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  ordinal INTEGER NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('dye', 'auxiliary', 'goods', 'labour', 'overhead', 'other')),
  description TEXT NOT NULL,
  dye_id INTEGER REFERENCES dyes (id),
  auxiliary_id INTEGER REFERENCES auxiliaries (id),
  stock_lot_id INTEGER REFERENCES stock_lots (id),
  person_id INTEGER REFERENCES people (id),
  step_id INTEGER REFERENCES lot_steps (id),
  quantity INTEGER NOT NULL,
  quantity_unit TEXT NOT NULL CHECK (quantity_unit IN ('mg', 'ul', 's', 'piece')),
  price_minor INTEGER NOT NULL CHECK (price_minor >= 0),
  per_quantity INTEGER NOT NULL CHECK (per_quantity > 0),
  wasted INTEGER NOT NULL DEFAULT 0 CHECK (wasted IN (0, 1)),
  cost_minor INTEGER NOT NULL,
  corrects_id INTEGER REFERENCES cost_lines (id),
  written_at INTEGER NOT NULL,
  UNIQUE (lot_id, ordinal)
) STRICT;
--> statement-breakpoint
CREATE INDEX cost_lines_stock_lot ON cost_lines (stock_lot_id);
--> statement-breakpoint

-- ───────────── swatches and colour readings ─────────────
CREATE TABLE swatches (
  id INTEGER PRIMARY KEY,
  code TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(code)) > 0),
  name TEXT NOT NULL CHECK (length(trim(name)) > 0),
  revision_id INTEGER NOT NULL REFERENCES recipe_revisions (id),
  depth_ppm INTEGER NOT NULL CHECK (depth_ppm BETWEEN 1 AND 2000000),
  fibre_id INTEGER NOT NULL REFERENCES fibres (id),
  method_id INTEGER NOT NULL REFERENCES methods (id),
  lot_id INTEGER REFERENCES lots (id),
  dry_mass_mg INTEGER CHECK (dry_mass_mg > 0),
  dyed_on TEXT NOT NULL CHECK (dyed_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  made_by INTEGER NOT NULL REFERENCES people (id),
  card_place TEXT NOT NULL DEFAULT '',
  photo_id INTEGER REFERENCES photos (id),
  rating INTEGER CHECK (rating BETWEEN 1 AND 5),
  note TEXT NOT NULL DEFAULT '',
  archived_at INTEGER,
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
--> statement-breakpoint
CREATE INDEX swatches_revision ON swatches (revision_id);
--> statement-breakpoint
CREATE INDEX swatches_fibre ON swatches (fibre_id);
--> statement-breakpoint
CREATE INDEX swatches_method ON swatches (method_id);
--> statement-breakpoint
CREATE INDEX swatches_lot ON swatches (lot_id);
--> statement-breakpoint
-- The sample is what it is: its formula, goods, method and depth cannot be edited afterwards.
CREATE TRIGGER swatches_formula_fixed BEFORE UPDATE OF revision_id, depth_ppm, fibre_id, method_id, lot_id ON swatches
  WHEN NEW.revision_id <> OLD.revision_id OR NEW.depth_ppm <> OLD.depth_ppm OR NEW.fibre_id <> OLD.fibre_id OR NEW.method_id <> OLD.method_id OR NEW.lot_id IS NOT OLD.lot_id
  BEGIN SELECT RAISE(ABORT, 'a swatch keeps the formula it was dyed by'); END;
--> statement-breakpoint

CREATE TABLE swatch_stock_lots (
  swatch_id INTEGER NOT NULL REFERENCES swatches (id),
  stock_lot_id INTEGER NOT NULL REFERENCES stock_lots (id),
  PRIMARY KEY (swatch_id, stock_lot_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
CREATE INDEX swatch_stock_lots_stock ON swatch_stock_lots (stock_lot_id);
--> statement-breakpoint

CREATE TABLE colour_readings (
  id INTEGER PRIMARY KEY,
  swatch_id INTEGER REFERENCES swatches (id),
  lot_id INTEGER REFERENCES lots (id),
  order_line_id INTEGER REFERENCES order_lines (id),
  l REAL NOT NULL CHECK (l BETWEEN 0 AND 110),
  a REAL NOT NULL CHECK (a BETWEEN -200 AND 200),
  b REAL NOT NULL CHECK (b BETWEEN -200 AND 200),
  illuminant TEXT NOT NULL CHECK (illuminant IN ('D65', 'D50', 'A')),
  observer TEXT NOT NULL CHECK (observer IN ('2', '10')),
  source TEXT NOT NULL CHECK (source IN ('instrument', 'photoWithCard', 'typed', 'predicted', 'invented')),
  as_typed TEXT NOT NULL DEFAULT '',
  area_share_ppm INTEGER CHECK (area_share_ppm BETWEEN 1 AND 1000000),
  uncertainty_milli INTEGER CHECK (uncertainty_milli >= 0),
  read_at INTEGER NOT NULL,
  read_by INTEGER NOT NULL REFERENCES people (id),
  note TEXT NOT NULL DEFAULT '',
  withdrawn_at INTEGER,
  CHECK ((swatch_id IS NOT NULL) + (lot_id IS NOT NULL) + (order_line_id IS NOT NULL) = 1)
) STRICT;
--> statement-breakpoint
CREATE INDEX colour_readings_swatch ON colour_readings (swatch_id) WHERE swatch_id IS NOT NULL;
--> statement-breakpoint
CREATE INDEX colour_readings_lot ON colour_readings (lot_id) WHERE lot_id IS NOT NULL;
--> statement-breakpoint
CREATE INDEX colour_readings_order_line ON colour_readings (order_line_id) WHERE order_line_id IS NOT NULL;
--> statement-breakpoint

-- What a screen shows of a swatch, worked out from its readings so that a wall of twenty thousand can be sorted and filtered
-- by one statement. It holds nothing of its own: readings.ts rewrites the row with every reading made or withdrawn.
CREATE TABLE swatch_colours (
  swatch_id INTEGER PRIMARY KEY REFERENCES swatches (id),
  -- The leading colour (largest share of the area), CIELAB D65/2°.
  l REAL NOT NULL,
  a REAL NOT NULL,
  b REAL NOT NULL,
  hex TEXT NOT NULL CHECK (length(hex) = 7 AND hex GLOB '#[0-9a-f]*'),
  in_gamut INTEGER NOT NULL CHECK (in_gamut IN (0, 1)),
  adapted INTEGER NOT NULL CHECK (adapted IN (0, 1)),
  source TEXT NOT NULL,
  card_place INTEGER NOT NULL,
  -- Every colour's hue family between commas: ',blue,rose,'.
  hue_families TEXT NOT NULL,
  -- JSON: [{ hex, sharePpm }] of all its colours.
  bands TEXT NOT NULL CHECK (json_valid(bands))
) STRICT;
--> statement-breakpoint
CREATE INDEX swatch_colours_place ON swatch_colours (card_place, swatch_id);
--> statement-breakpoint

-- ───────────── stock ─────────────
-- One container. A stock solution is a container too: made from a powder container, measured in µL.
CREATE TABLE stock_lots (
  id INTEGER PRIMARY KEY,
  code TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(code)) > 0),
  kind TEXT NOT NULL CHECK (kind IN ('dye', 'auxiliary', 'fibre')),
  dye_id INTEGER REFERENCES dyes (id),
  auxiliary_id INTEGER REFERENCES auxiliaries (id),
  fibre_id INTEGER REFERENCES fibres (id),
  unit TEXT NOT NULL CHECK (unit IN ('mg', 'ul')),
  supplier TEXT NOT NULL DEFAULT '',
  maker_lot TEXT NOT NULL DEFAULT '',
  strength_ppm INTEGER NOT NULL DEFAULT 1000000 CHECK (strength_ppm BETWEEN 10000 AND 10000000),
  received_on TEXT NOT NULL CHECK (received_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  opened_on TEXT CHECK (opened_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  best_before_on TEXT CHECK (best_before_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  price_minor INTEGER NOT NULL CHECK (price_minor >= 0),
  freight_minor INTEGER NOT NULL DEFAULT 0 CHECK (freight_minor >= 0),
  received_quantity INTEGER NOT NULL CHECK (received_quantity > 0),
  source_stock_lot_id INTEGER REFERENCES stock_lots (id),
  conc_ppm INTEGER CHECK (conc_ppm > 0),
  note TEXT NOT NULL DEFAULT '',
  recalled_at INTEGER,
  recall_reason TEXT NOT NULL DEFAULT '',
  closed_at INTEGER,
  version INTEGER NOT NULL DEFAULT 1,
  CHECK ((kind = 'dye') = (dye_id IS NOT NULL) AND (kind = 'auxiliary') = (auxiliary_id IS NOT NULL) AND (kind = 'fibre') = (fibre_id IS NOT NULL)),
  CHECK ((source_stock_lot_id IS NULL) = (conc_ppm IS NULL)),
  CHECK (source_stock_lot_id IS NULL OR unit = 'ul')
) STRICT;
--> statement-breakpoint
CREATE INDEX stock_lots_dye ON stock_lots (dye_id) WHERE dye_id IS NOT NULL;
--> statement-breakpoint
CREATE INDEX stock_lots_auxiliary ON stock_lots (auxiliary_id) WHERE auxiliary_id IS NOT NULL;
--> statement-breakpoint
CREATE INDEX stock_lots_fibre ON stock_lots (fibre_id) WHERE fibre_id IS NOT NULL;
--> statement-breakpoint
CREATE INDEX stock_lots_source ON stock_lots (source_stock_lot_id) WHERE source_stock_lot_id IS NOT NULL;
--> statement-breakpoint
-- What was paid for what was received is a fact of the receipt; later prices belong to later receipts.
CREATE TRIGGER stock_lots_receipt_fixed BEFORE UPDATE OF price_minor, freight_minor, received_quantity, unit, kind, dye_id, auxiliary_id, fibre_id, source_stock_lot_id, conc_ppm ON stock_lots
  WHEN NEW.price_minor <> OLD.price_minor OR NEW.freight_minor <> OLD.freight_minor OR NEW.received_quantity <> OLD.received_quantity OR NEW.unit <> OLD.unit
    OR NEW.kind <> OLD.kind OR NEW.dye_id IS NOT OLD.dye_id OR NEW.auxiliary_id IS NOT OLD.auxiliary_id OR NEW.fibre_id IS NOT OLD.fibre_id
    OR NEW.source_stock_lot_id IS NOT OLD.source_stock_lot_id OR NEW.conc_ppm IS NOT OLD.conc_ppm
  BEGIN SELECT RAISE(ABORT, 'the receipt of a stock lot never changes'); END;
--> statement-breakpoint

CREATE TABLE stock_ledger (
  id INTEGER PRIMARY KEY,
  stock_lot_id INTEGER NOT NULL REFERENCES stock_lots (id),
  kind TEXT NOT NULL CHECK (kind IN ('receipt', 'issue', 'waste', 'stockTake', 'reversal')),
  quantity INTEGER NOT NULL CHECK (quantity <> 0 OR kind = 'stockTake'),
  at INTEGER NOT NULL,
  recorded_at INTEGER NOT NULL,
  by_person_id INTEGER NOT NULL REFERENCES people (id),
  reason TEXT NOT NULL DEFAULT '',
  lot_id INTEGER REFERENCES lots (id),
  weighing_id INTEGER REFERENCES weighings (id),
  solution_id INTEGER REFERENCES stock_lots (id),
  reverses_id INTEGER UNIQUE REFERENCES stock_ledger (id),
  client_id TEXT UNIQUE,
  CHECK (kind <> 'receipt' OR quantity > 0),
  CHECK (kind NOT IN ('issue', 'waste') OR quantity < 0),
  CHECK ((kind = 'reversal') = (reverses_id IS NOT NULL)),
  CHECK (kind NOT IN ('waste', 'stockTake') OR length(trim(reason)) > 0)
) STRICT;
--> statement-breakpoint
CREATE INDEX stock_ledger_stock_lot ON stock_ledger (stock_lot_id, at);
--> statement-breakpoint
CREATE INDEX stock_ledger_lot ON stock_ledger (lot_id) WHERE lot_id IS NOT NULL;
--> statement-breakpoint
CREATE INDEX stock_ledger_weighing ON stock_ledger (weighing_id) WHERE weighing_id IS NOT NULL;
--> statement-breakpoint
CREATE UNIQUE INDEX stock_ledger_one_receipt ON stock_ledger (stock_lot_id) WHERE kind = 'receipt';
--> statement-breakpoint
CREATE TRIGGER stock_ledger_no_update BEFORE UPDATE ON stock_ledger BEGIN SELECT RAISE(ABORT, 'the stock ledger is append-only'); END;
--> statement-breakpoint
CREATE TRIGGER stock_ledger_no_delete BEFORE DELETE ON stock_ledger BEGIN SELECT RAISE(ABORT, 'the stock ledger is append-only'); END;
--> statement-breakpoint
CREATE TRIGGER stock_ledger_reversal BEFORE INSERT ON stock_ledger WHEN NEW.kind = 'reversal'
    AND NOT EXISTS (SELECT 1 FROM stock_ledger o WHERE o.id = NEW.reverses_id AND o.stock_lot_id = NEW.stock_lot_id AND o.quantity = -NEW.quantity AND o.kind <> 'reversal')
  BEGIN SELECT RAISE(ABORT, 'a reversal undoes one entry of the same stock lot, whole'); END;
--> statement-breakpoint

-- ───────────── plans stand, happenings stand, finished lots stand ─────────────
CREATE TRIGGER lot_adjustments_no_update BEFORE UPDATE ON lot_adjustments BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_adjustments_no_delete BEFORE DELETE ON lot_adjustments BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_adjustments_finished BEFORE INSERT ON lot_adjustments WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER lot_targets_no_update BEFORE UPDATE ON lot_targets BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_targets_no_delete BEFORE DELETE ON lot_targets BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_targets_finished BEFORE INSERT ON lot_targets WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER weighings_no_update BEFORE UPDATE ON weighings BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER weighings_no_delete BEFORE DELETE ON weighings BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER weighings_finished BEFORE INSERT ON weighings WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER lot_labour_no_update BEFORE UPDATE ON lot_labour BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_labour_no_delete BEFORE DELETE ON lot_labour BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_labour_finished BEFORE INSERT ON lot_labour WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER lot_colours_no_update BEFORE UPDATE ON lot_colours BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_colours_no_delete BEFORE DELETE ON lot_colours BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_colours_only_planned BEFORE INSERT ON lot_colours WHEN (SELECT status FROM lots WHERE id = NEW.lot_id) IS NOT 'planned'
  BEGIN SELECT RAISE(ABORT, 'the plan is closed once work has begun'); END;
--> statement-breakpoint
CREATE TRIGGER lot_components_no_update BEFORE UPDATE ON lot_components BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_components_no_delete BEFORE DELETE ON lot_components BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_components_only_planned BEFORE INSERT ON lot_components WHEN (SELECT status FROM lots WHERE id = NEW.lot_id) IS NOT 'planned'
  BEGIN SELECT RAISE(ABORT, 'the plan is closed once work has begun'); END;
--> statement-breakpoint
CREATE TRIGGER lot_steps_no_update BEFORE UPDATE ON lot_steps BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_steps_no_delete BEFORE DELETE ON lot_steps BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_steps_only_planned BEFORE INSERT ON lot_steps WHEN (SELECT status FROM lots WHERE id = NEW.lot_id) IS NOT 'planned'
  BEGIN SELECT RAISE(ABORT, 'the plan is closed once work has begun'); END;
--> statement-breakpoint
CREATE TRIGGER lot_lines_no_update BEFORE UPDATE ON lot_lines BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_lines_no_delete BEFORE DELETE ON lot_lines BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_lines_finished BEFORE INSERT ON lot_lines WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER lot_outcomes_no_update BEFORE UPDATE ON lot_outcomes BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_no_update BEFORE UPDATE ON cost_lines BEGIN SELECT RAISE(ABORT, 'a cost line is corrected by a reversing line'); END;
--> statement-breakpoint
CREATE TRIGGER lot_outcomes_no_delete BEFORE DELETE ON lot_outcomes BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_no_delete BEFORE DELETE ON cost_lines BEGIN SELECT RAISE(ABORT, 'a cost line is corrected by a reversing line'); END;
--> statement-breakpoint
CREATE TRIGGER lot_outcomes_finished BEFORE INSERT ON lot_outcomes WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_finished BEFORE INSERT ON cost_lines WHEN NEW.corrects_id IS NULL AND (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_own_lot BEFORE INSERT ON cost_lines
  WHEN NEW.corrects_id IS NOT NULL AND (SELECT lot_id FROM cost_lines WHERE id = NEW.corrects_id) IS NOT NEW.lot_id
  BEGIN SELECT RAISE(ABORT, 'a cost line is corrected in its own lot'); END;
--> statement-breakpoint
CREATE TRIGGER lots_finished BEFORE UPDATE ON lots WHEN OLD.finished_at IS NOT NULL BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER lots_no_delete BEFORE DELETE ON lots BEGIN SELECT RAISE(ABORT, 'a lot is abandoned, never erased'); END;
--> statement-breakpoint
CREATE TRIGGER lots_plan_fixed BEFORE UPDATE OF number, method_id, fibre_id, goods_text, pieces, dry_mass_mg, goods_owner, goods_stock_lot_id, mass_found, coverage, bath_ul, soak_ul, loss_ppm, readability_mg, estimate_minor, plan_json, planned_at, planned_by ON lots
  BEGIN SELECT RAISE(ABORT, 'a plan is not overwritten'); END;
