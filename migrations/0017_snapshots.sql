-- What a figure of a lot rests on is kept with the weighing and with the closing, and never looked up later: the strength of a
-- container when it was weighed from, the names that things had, the zone and with it the day on which a lot was closed, the goods
-- that were really dyed, what was agreed with the customer. All of it is written by triggers, so that no way of closing a lot can
-- leave it out. Where an earlier version kept nothing, what stands now is kept and marked 'atUpgrade': it is what the pages have
-- shown until now, not what is known of that day.

-- ───────────── strength ─────────────
ALTER TABLE weighings ADD COLUMN strength_ppm INTEGER CHECK (strength_ppm > 0);
--> statement-breakpoint
ALTER TABLE weighings ADD COLUMN conc_ppm INTEGER CHECK (conc_ppm > 0);
--> statement-breakpoint
ALTER TABLE weighings ADD COLUMN strength_kept TEXT NOT NULL DEFAULT 'whenWeighed' CHECK (strength_kept IN ('whenWeighed', 'atUpgrade'));
--> statement-breakpoint
DROP TRIGGER weighings_no_update;
--> statement-breakpoint
UPDATE weighings SET (strength_ppm, conc_ppm) = (SELECT s.strength_ppm, s.conc_ppm FROM stock_lots s WHERE s.id = weighings.stock_lot_id),
  strength_kept = 'atUpgrade';
--> statement-breakpoint
CREATE TRIGGER weighings_no_update BEFORE UPDATE ON weighings BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER weighings_with_strength BEFORE INSERT ON weighings
  WHEN NEW.strength_ppm IS NULL OR NEW.strength_kept <> 'whenWeighed' OR NEW.conc_ppm IS NOT (SELECT conc_ppm FROM stock_lots WHERE id = NEW.stock_lot_id)
  BEGIN SELECT RAISE(ABORT, 'a weighing keeps the strength of its container'); END;
--> statement-breakpoint
-- A material that was forgotten when the lot was closed has no weighing: its line of cost keeps the strength.
ALTER TABLE cost_lines ADD COLUMN strength_ppm INTEGER CHECK (strength_ppm > 0);
--> statement-breakpoint
DROP TRIGGER cost_lines_no_update;
--> statement-breakpoint
UPDATE cost_lines SET strength_ppm = (SELECT s.strength_ppm FROM stock_lots s WHERE s.id = cost_lines.stock_lot_id)
  WHERE added = 1 AND stock_lot_id IS NOT NULL;
--> statement-breakpoint
CREATE TRIGGER cost_lines_no_update BEFORE UPDATE ON cost_lines BEGIN SELECT RAISE(ABORT, 'a cost line is corrected by a reversing line'); END;
--> statement-breakpoint
-- The strength of a container may be set right. A weighing of before that reaches us afterwards keeps the strength of its time.
CREATE TABLE strength_changes (
  id INTEGER PRIMARY KEY,
  stock_lot_id INTEGER NOT NULL REFERENCES stock_lots (id),
  was_ppm INTEGER NOT NULL CHECK (was_ppm > 0),
  is_ppm INTEGER NOT NULL CHECK (is_ppm > 0 AND is_ppm <> was_ppm),
  at INTEGER NOT NULL,
  by_person_id INTEGER NOT NULL REFERENCES people (id)
) STRICT;
--> statement-breakpoint
CREATE INDEX strength_changes_stock_lot ON strength_changes (stock_lot_id);
--> statement-breakpoint
CREATE TRIGGER strength_changes_from_what_stands BEFORE INSERT ON strength_changes
  WHEN NEW.was_ppm IS NOT (SELECT strength_ppm FROM stock_lots WHERE id = NEW.stock_lot_id)
  BEGIN SELECT RAISE(ABORT, 'a change of strength begins with the strength that stands'); END;
--> statement-breakpoint
CREATE TRIGGER strength_changes_no_update BEFORE UPDATE ON strength_changes BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER strength_changes_no_delete BEFORE DELETE ON strength_changes BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER stock_lots_strength_noted BEFORE UPDATE OF strength_ppm ON stock_lots
  WHEN NEW.strength_ppm <> OLD.strength_ppm AND NOT EXISTS (SELECT 1 FROM strength_changes c WHERE c.was_ppm = OLD.strength_ppm AND c.is_ppm = NEW.strength_ppm
    AND c.id = (SELECT max(id) FROM strength_changes WHERE stock_lot_id = OLD.id))
  BEGIN SELECT RAISE(ABORT, 'a change of strength is noted first'); END;
--> statement-breakpoint

-- ───────────── the closing ─────────────
-- dry_mass_mg: the goods that were really dyed; lots.dry_mass_mg stays the plan's. closed_on: the day in the zone of then.
CREATE TABLE lot_closings (
  lot_id INTEGER PRIMARY KEY REFERENCES lots (id),
  closed_on TEXT NOT NULL CHECK (closed_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  zone TEXT NOT NULL,
  currency TEXT NOT NULL,
  dry_mass_mg INTEGER NOT NULL CHECK (dry_mass_mg > 0),
  weighing_tolerance_ppm INTEGER NOT NULL,
  kept TEXT NOT NULL CHECK (kept IN ('atClosing', 'atUpgrade'))
) STRICT;
--> statement-breakpoint
-- What the things of a closed lot were called. A container: its code and, as name, the maker's lot number.
CREATE TABLE lot_names (
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  kind TEXT NOT NULL CHECK (kind IN ('fibre', 'method', 'recipe', 'swatch', 'dye', 'auxiliary', 'stockLot', 'person')),
  ref_id INTEGER NOT NULL,
  code TEXT NOT NULL,
  name TEXT NOT NULL,
  PRIMARY KEY (lot_id, kind, ref_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
-- For the search by an old name, which walks from one distinct name to the next.
CREATE INDEX lot_names_name ON lot_names (kind, name);
--> statement-breakpoint
-- Whom a closed lot was for, and what had been agreed: the shares of its cost and the judgement of its shade rest on it.
CREATE TABLE lot_line_closings (
  lot_id INTEGER NOT NULL REFERENCES lots (id),
  order_line_id INTEGER NOT NULL REFERENCES order_lines (id),
  order_id INTEGER NOT NULL REFERENCES orders (id),
  order_number TEXT NOT NULL,
  customer_id INTEGER NOT NULL REFERENCES customers (id),
  customer_name TEXT NOT NULL,
  description TEXT NOT NULL,
  pieces INTEGER,
  dry_mass_mg INTEGER,
  price_minor INTEGER,
  tolerance_formula TEXT CHECK (tolerance_formula IN ('CIEDE2000', 'CMC(2:1)', 'CMC(1:1)', 'CIE76', 'by eye')),
  tolerance_milli INTEGER,
  PRIMARY KEY (lot_id, order_line_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
CREATE INDEX lot_line_closings_customer ON lot_line_closings (customer_id, lot_id);
--> statement-breakpoint
CREATE INDEX lot_line_closings_order ON lot_line_closings (order_id, order_line_id);
--> statement-breakpoint
CREATE INDEX lot_line_closings_name ON lot_line_closings (customer_name);
--> statement-breakpoint
-- What the things of any lot are called now, a thing as often as it comes to the lot: UNION ALL, since SQLite asks for one lot alone
-- only through that, and would otherwise read all of them.
CREATE VIEW lot_names_now (lot_id, kind, ref_id, code, name) AS
  SELECT l.id, 'fibre', f.id, '', f.name FROM lots l JOIN fibres f ON f.id = l.fibre_id
  UNION ALL SELECT l.id, 'method', m.id, '', m.name FROM lots l JOIN methods m ON m.id = l.method_id
  UNION ALL SELECT c.lot_id, 'recipe', r.id, '', r.name FROM lot_colours c JOIN recipe_revisions v ON v.id = c.revision_id JOIN recipes r ON r.id = v.recipe_id
  UNION ALL SELECT c.lot_id, 'swatch', s.id, s.code, s.name FROM lot_colours c JOIN swatches s ON s.id = c.swatch_id
  UNION ALL SELECT c.lot_id, 'dye', d.id, d.code, d.name FROM lot_components c JOIN dyes d ON d.id = c.dye_id
  UNION ALL SELECT c.lot_id, 'dye', d.id, d.code, d.name FROM cost_lines c JOIN dyes d ON d.id = c.dye_id
  UNION ALL SELECT c.lot_id, 'auxiliary', a.id, a.code, a.name FROM lot_components c JOIN auxiliaries a ON a.id = c.auxiliary_id
  UNION ALL SELECT c.lot_id, 'auxiliary', a.id, a.code, a.name FROM cost_lines c JOIN auxiliaries a ON a.id = c.auxiliary_id
  UNION ALL SELECT w.lot_id, 'stockLot', s.id, s.code, s.maker_lot FROM weighings w JOIN stock_lots s ON s.id = w.stock_lot_id
  UNION ALL SELECT c.lot_id, 'stockLot', s.id, s.code, s.maker_lot FROM cost_lines c JOIN stock_lots s ON s.id = c.stock_lot_id
  UNION ALL SELECT l.id, 'stockLot', s.id, s.code, s.maker_lot FROM lots l JOIN stock_lots s ON s.id = l.goods_stock_lot_id
  UNION ALL SELECT l.id, 'person', p.id, '', p.name FROM lots l JOIN people p ON p.id = l.planned_by
  UNION ALL SELECT e.lot_id, 'person', p.id, '', p.name FROM log_entries e JOIN people p ON p.id = e.by_person_id
  UNION ALL SELECT b.lot_id, 'person', p.id, '', p.name FROM lot_labour b JOIN people p ON p.id = b.person_id
  UNION ALL SELECT c.lot_id, 'person', p.id, '', p.name FROM cost_lines c JOIN people p ON p.id = c.person_id
  UNION ALL SELECT c.lot_id, 'person', p.id, '', p.name FROM cost_lines c JOIN people p ON p.id = c.written_by;
--> statement-breakpoint
-- The goods that were dyed: of the last adjustment that stands, else as planned.
CREATE VIEW lots_dyed_mass (lot_id, dry_mass_mg) AS
  SELECT l.id, coalesce((SELECT a.dry_mass_mg FROM lot_adjustments a WHERE a.lot_id = l.id AND NOT EXISTS
      (SELECT 1 FROM log_entries v WHERE v.refers_to_id = a.log_entry_id AND v.kind = 'voiding') ORDER BY a.id DESC LIMIT 1), l.dry_mass_mg)
    FROM lots l;
--> statement-breakpoint
-- Whom any lot serves, and what is agreed now.
CREATE VIEW lot_lines_now (lot_id, order_line_id, order_id, order_number, customer_id, customer_name, description, pieces, dry_mass_mg, price_minor,
    tolerance_formula, tolerance_milli) AS
  SELECT x.lot_id, y.id, z.id, z.number, c.id, c.name, y.description, y.pieces, y.dry_mass_mg, y.price_minor, y.tolerance_formula, y.tolerance_milli
    FROM lot_lines x JOIN order_lines y ON y.id = x.order_line_id JOIN orders z ON z.id = y.order_id JOIN customers c ON c.id = z.customer_id;
--> statement-breakpoint

-- ── what earlier versions closed ──
INSERT INTO lot_closings
  SELECT l.id, studio_day(l.finished_at, s.zone), s.zone, s.currency, d.dry_mass_mg, s.weighing_tolerance_ppm, 'atUpgrade'
    FROM lots l JOIN lots_dyed_mass d ON d.lot_id = l.id CROSS JOIN studio s WHERE l.finished_at IS NOT NULL;
--> statement-breakpoint
-- The plan kept the names of fibre, method, recipes, dyes and auxiliaries: these are certain, whatever they are called now.
INSERT INTO lot_names
  SELECT l.id, 'fibre', l.fibre_id, '', l.plan_json ->> '$.fibreName' FROM lots l
    WHERE l.finished_at IS NOT NULL AND l.plan_json ->> '$.fibreName' IS NOT NULL
  UNION ALL SELECT l.id, 'method', l.method_id, '', l.plan_json ->> '$.methodName' FROM lots l
    WHERE l.finished_at IS NOT NULL AND l.plan_json ->> '$.methodName' IS NOT NULL
  UNION ALL SELECT c.lot_id, 'recipe', v.recipe_id, '', min(p.value ->> '$.recipeName') FROM lots l JOIN lot_colours c ON c.lot_id = l.id
      JOIN recipe_revisions v ON v.id = c.revision_id JOIN json_each(l.plan_json, '$.colours') p ON p.value ->> '$.revisionId' = v.id
    WHERE l.finished_at IS NOT NULL AND p.value ->> '$.recipeName' IS NOT NULL GROUP BY 1, 3
  UNION ALL SELECT l.id, p.value ->> '$.kind', coalesce(p.value ->> '$.dyeId', p.value ->> '$.auxiliaryId'), min(p.value ->> '$.code'), min(p.value ->> '$.name')
      FROM lots l JOIN json_each(l.plan_json, '$.lines') p
    WHERE l.finished_at IS NOT NULL AND p.value ->> '$.kind' IN ('dye', 'auxiliary') AND p.value ->> '$.code' IS NOT NULL AND p.value ->> '$.name' IS NOT NULL
      AND coalesce(p.value ->> '$.dyeId', p.value ->> '$.auxiliaryId') IS NOT NULL GROUP BY 1, 2, 3;
--> statement-breakpoint
INSERT INTO lot_names
  SELECT DISTINCT n.lot_id, n.kind, n.ref_id, n.code, n.name FROM lot_names_now n JOIN lots l ON l.id = n.lot_id
    WHERE l.finished_at IS NOT NULL
      AND NOT EXISTS (SELECT 1 FROM lot_names k WHERE k.lot_id = n.lot_id AND k.kind = n.kind AND k.ref_id = n.ref_id);
--> statement-breakpoint
INSERT INTO lot_line_closings SELECT n.* FROM lot_lines_now n JOIN lots l ON l.id = n.lot_id WHERE l.finished_at IS NOT NULL;
--> statement-breakpoint

-- ── the figures of closed lots: by the goods that were dyed, on the day of the closing ──
DROP TRIGGER lots_closed;
--> statement-breakpoint
DROP TRIGGER cost_lines_of_closed;
--> statement-breakpoint
DROP TRIGGER closed_lots_as_written;
--> statement-breakpoint
DROP TRIGGER closed_lots_fixed;
--> statement-breakpoint
DROP TRIGGER closed_lots_no_delete;
--> statement-breakpoint
CREATE TABLE closed_lots_by_day (
  finished_at INTEGER NOT NULL,
  lot_id INTEGER NOT NULL UNIQUE REFERENCES lots (id),
  status TEXT NOT NULL CHECK (status IN ('finished', 'abandoned')),
  number TEXT NOT NULL,
  method_id INTEGER NOT NULL REFERENCES methods (id),
  fibre_id INTEGER NOT NULL REFERENCES fibres (id),
  -- As dyed.
  dry_mass_mg INTEGER NOT NULL,
  estimate_minor INTEGER NOT NULL,
  -- Null of an abandoned lot, which has no outcome.
  first_quality INTEGER,
  seconds INTEGER,
  rework INTEGER,
  scrap INTEGER,
  seconds_value_minor INTEGER,
  -- Sums of the cost lines, corrections and additions included.
  dye_minor INTEGER NOT NULL,
  auxiliary_minor INTEGER NOT NULL,
  goods_minor INTEGER NOT NULL,
  labour_minor INTEGER NOT NULL,
  overhead_minor INTEGER NOT NULL,
  other_minor INTEGER NOT NULL,
  wasted_minor INTEGER NOT NULL,
  -- The studio day of finished_at in the zone of then: what ranges and months go by.
  closed_on TEXT NOT NULL CHECK (closed_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  PRIMARY KEY (finished_at, lot_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
INSERT INTO closed_lots_by_day
  SELECT c.finished_at, c.lot_id, c.status, c.number, c.method_id, c.fibre_id, k.dry_mass_mg, c.estimate_minor, c.first_quality, c.seconds, c.rework, c.scrap,
      c.seconds_value_minor, c.dye_minor, c.auxiliary_minor, c.goods_minor, c.labour_minor, c.overhead_minor, c.other_minor, c.wasted_minor, k.closed_on
    FROM closed_lots c JOIN lot_closings k ON k.lot_id = c.lot_id;
--> statement-breakpoint
DROP TABLE closed_lots;
--> statement-breakpoint
ALTER TABLE closed_lots_by_day RENAME TO closed_lots;
--> statement-breakpoint
-- Outcome and cost lines come before the end of a lot: the record refuses them afterwards.
CREATE TRIGGER lots_closed AFTER UPDATE OF finished_at ON lots WHEN OLD.finished_at IS NULL AND NEW.finished_at IS NOT NULL
BEGIN
  INSERT INTO lot_closings
    SELECT NEW.id, studio_day(NEW.finished_at, s.zone), s.zone, s.currency, d.dry_mass_mg, s.weighing_tolerance_ppm, 'atClosing'
      FROM studio s JOIN lots_dyed_mass d ON d.lot_id = NEW.id;
  INSERT INTO lot_names SELECT DISTINCT n.lot_id, n.kind, n.ref_id, n.code, n.name FROM lot_names_now n WHERE n.lot_id = NEW.id;
  INSERT INTO lot_line_closings SELECT n.* FROM lot_lines_now n WHERE n.lot_id = NEW.id;
  INSERT INTO closed_lots
    SELECT NEW.finished_at, NEW.id, NEW.status, NEW.number, NEW.method_id, NEW.fibre_id, k.dry_mass_mg, NEW.estimate_minor,
        o.first_quality, o.seconds, o.rework, o.scrap, o.seconds_value_minor,
        coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'dye'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'auxiliary'), 0),
        coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'goods'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'labour'), 0),
        coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'overhead'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'other'), 0),
        coalesce(sum(c.cost_minor * c.wasted), 0), k.closed_on
      FROM (SELECT NEW.id AS id) l LEFT JOIN lot_closings k ON k.lot_id = l.id LEFT JOIN lot_outcomes o ON o.lot_id = l.id
        LEFT JOIN cost_lines c ON c.lot_id = l.id;
END;
--> statement-breakpoint
-- Corrections of a closed lot, and what was forgotten when it was closed.
CREATE TRIGGER cost_lines_of_closed AFTER INSERT ON cost_lines WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
BEGIN
  UPDATE closed_lots SET
      dye_minor = dye_minor + iif(NEW.kind = 'dye', NEW.cost_minor, 0),
      auxiliary_minor = auxiliary_minor + iif(NEW.kind = 'auxiliary', NEW.cost_minor, 0),
      goods_minor = goods_minor + iif(NEW.kind = 'goods', NEW.cost_minor, 0),
      labour_minor = labour_minor + iif(NEW.kind = 'labour', NEW.cost_minor, 0),
      overhead_minor = overhead_minor + iif(NEW.kind = 'overhead', NEW.cost_minor, 0),
      other_minor = other_minor + iif(NEW.kind = 'other', NEW.cost_minor, 0),
      wasted_minor = wasted_minor + NEW.cost_minor * NEW.wasted
    WHERE lot_id = NEW.lot_id;
  INSERT INTO lot_names SELECT DISTINCT n.lot_id, n.kind, n.ref_id, n.code, n.name FROM lot_names_now n WHERE n.lot_id = NEW.lot_id
    AND NOT EXISTS (SELECT 1 FROM lot_names k WHERE k.lot_id = n.lot_id AND k.kind = n.kind AND k.ref_id = n.ref_id);
END;
--> statement-breakpoint
-- A note or a reading that reaches a closed lot later, with who wrote it and what it was taken from.
CREATE TRIGGER log_entries_of_closed AFTER INSERT ON log_entries WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
BEGIN
  INSERT INTO lot_names SELECT DISTINCT n.lot_id, n.kind, n.ref_id, n.code, n.name FROM lot_names_now n WHERE n.lot_id = NEW.lot_id
    AND NOT EXISTS (SELECT 1 FROM lot_names k WHERE k.lot_id = n.lot_id AND k.kind = n.kind AND k.ref_id = n.ref_id);
END;
--> statement-breakpoint
CREATE TRIGGER weighings_of_closed AFTER INSERT ON weighings WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
BEGIN
  INSERT INTO lot_names SELECT DISTINCT n.lot_id, n.kind, n.ref_id, n.code, n.name FROM lot_names_now n WHERE n.lot_id = NEW.lot_id
    AND NOT EXISTS (SELECT 1 FROM lot_names k WHERE k.lot_id = n.lot_id AND k.kind = n.kind AND k.ref_id = n.ref_id);
END;
--> statement-breakpoint
-- By hand no row can be made, changed or taken away so that it says other than the record.
CREATE TRIGGER closed_lots_as_written BEFORE INSERT ON closed_lots
  WHEN NOT EXISTS (SELECT 1 FROM lots l WHERE l.id = NEW.lot_id AND l.finished_at = NEW.finished_at AND l.status = NEW.status)
    OR NOT EXISTS (SELECT 1 FROM lot_closings k WHERE k.lot_id = NEW.lot_id AND k.closed_on = NEW.closed_on AND k.dry_mass_mg = NEW.dry_mass_mg)
  BEGIN SELECT RAISE(ABORT, 'the figures of a closed lot follow the record'); END;
--> statement-breakpoint
CREATE TRIGGER closed_lots_fixed BEFORE UPDATE ON closed_lots
  WHEN NEW.finished_at <> OLD.finished_at OR NEW.lot_id <> OLD.lot_id OR NEW.status <> OLD.status OR NEW.number <> OLD.number
    OR NEW.method_id <> OLD.method_id OR NEW.fibre_id <> OLD.fibre_id OR NEW.dry_mass_mg <> OLD.dry_mass_mg
    OR NEW.estimate_minor <> OLD.estimate_minor OR NEW.first_quality IS NOT OLD.first_quality OR NEW.seconds IS NOT OLD.seconds
    OR NEW.rework IS NOT OLD.rework OR NEW.scrap IS NOT OLD.scrap OR NEW.seconds_value_minor IS NOT OLD.seconds_value_minor
    OR NEW.closed_on <> OLD.closed_on
    OR (NEW.dye_minor, NEW.auxiliary_minor, NEW.goods_minor, NEW.labour_minor, NEW.overhead_minor, NEW.other_minor, NEW.wasted_minor)
      IS NOT (SELECT coalesce(sum(iif(c.kind = 'dye', c.cost_minor, 0)), 0), coalesce(sum(iif(c.kind = 'auxiliary', c.cost_minor, 0)), 0),
          coalesce(sum(iif(c.kind = 'goods', c.cost_minor, 0)), 0), coalesce(sum(iif(c.kind = 'labour', c.cost_minor, 0)), 0),
          coalesce(sum(iif(c.kind = 'overhead', c.cost_minor, 0)), 0), coalesce(sum(iif(c.kind = 'other', c.cost_minor, 0)), 0),
          coalesce(sum(c.cost_minor * c.wasted), 0) FROM cost_lines c WHERE c.lot_id = NEW.lot_id)
  BEGIN SELECT RAISE(ABORT, 'the figures of a closed lot follow the record'); END;
--> statement-breakpoint
CREATE TRIGGER closed_lots_no_delete BEFORE DELETE ON closed_lots
  BEGIN SELECT RAISE(ABORT, 'the figures of a closed lot follow the record'); END;
--> statement-breakpoint
CREATE TRIGGER lot_closings_as_closed BEFORE INSERT ON lot_closings
  WHEN NEW.kept <> 'atClosing' OR NOT EXISTS (SELECT 1 FROM lots l JOIN lots_dyed_mass d ON d.lot_id = l.id CROSS JOIN studio s WHERE l.id = NEW.lot_id
    AND NEW.closed_on = studio_day(l.finished_at, s.zone) AND NEW.zone = s.zone AND NEW.currency = s.currency AND NEW.dry_mass_mg = d.dry_mass_mg
    AND NEW.weighing_tolerance_ppm = s.weighing_tolerance_ppm)
  BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
--> statement-breakpoint
CREATE TRIGGER lot_closings_no_update BEFORE UPDATE ON lot_closings BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
--> statement-breakpoint
CREATE TRIGGER lot_closings_no_delete BEFORE DELETE ON lot_closings BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
--> statement-breakpoint
CREATE TRIGGER lot_names_as_closed BEFORE INSERT ON lot_names
  WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NULL
    OR NOT EXISTS (SELECT 1 FROM lot_names_now n WHERE n.lot_id = NEW.lot_id AND n.kind = NEW.kind AND n.ref_id = NEW.ref_id AND n.code = NEW.code AND n.name = NEW.name)
  BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
--> statement-breakpoint
CREATE TRIGGER lot_names_no_update BEFORE UPDATE ON lot_names BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
--> statement-breakpoint
CREATE TRIGGER lot_names_no_delete BEFORE DELETE ON lot_names BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
--> statement-breakpoint
CREATE TRIGGER lot_line_closings_as_closed BEFORE INSERT ON lot_line_closings
  WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NULL
  BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
--> statement-breakpoint
CREATE TRIGGER lot_line_closings_no_update BEFORE UPDATE ON lot_line_closings BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
--> statement-breakpoint
CREATE TRIGGER lot_line_closings_no_delete BEFORE DELETE ON lot_line_closings BEGIN SELECT RAISE(ABORT, 'a closing is kept as it was'); END;
