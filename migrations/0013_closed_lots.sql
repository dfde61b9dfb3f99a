-- What reports over many years ask of a closed lot, in one narrow row each, by when it was closed: the lots, their outcomes and
-- their cost lines hold the same, but a sum over thirty years would read all of them (700 000 cost lines). Kept by triggers
-- alone; `npm run verify` holds every row against what it was made from.
CREATE TABLE closed_lots (
  finished_at INTEGER NOT NULL,
  lot_id INTEGER NOT NULL UNIQUE REFERENCES lots (id),
  status TEXT NOT NULL CHECK (status IN ('finished', 'abandoned')),
  number TEXT NOT NULL,
  method_id INTEGER NOT NULL REFERENCES methods (id),
  fibre_id INTEGER NOT NULL REFERENCES fibres (id),
  -- As planned; an adjustment that stands goes before it.
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
  PRIMARY KEY (finished_at, lot_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
INSERT INTO closed_lots
  SELECT l.finished_at, l.id, l.status, l.number, l.method_id, l.fibre_id, l.dry_mass_mg, l.estimate_minor,
      o.first_quality, o.seconds, o.rework, o.scrap, o.seconds_value_minor,
      coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'dye'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'auxiliary'), 0),
      coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'goods'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'labour'), 0),
      coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'overhead'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'other'), 0),
      coalesce(sum(c.cost_minor * c.wasted), 0)
    FROM lots l LEFT JOIN lot_outcomes o ON o.lot_id = l.id LEFT JOIN cost_lines c ON c.lot_id = l.id
    WHERE l.finished_at IS NOT NULL GROUP BY l.id;
--> statement-breakpoint
-- Outcome and cost lines come before the end of a lot: the record refuses them afterwards.
CREATE TRIGGER lots_closed AFTER UPDATE OF finished_at ON lots WHEN OLD.finished_at IS NULL AND NEW.finished_at IS NOT NULL
BEGIN
  INSERT INTO closed_lots
    SELECT NEW.finished_at, NEW.id, NEW.status, NEW.number, NEW.method_id, NEW.fibre_id, NEW.dry_mass_mg, NEW.estimate_minor,
        o.first_quality, o.seconds, o.rework, o.scrap, o.seconds_value_minor,
        coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'dye'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'auxiliary'), 0),
        coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'goods'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'labour'), 0),
        coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'overhead'), 0), coalesce(sum(c.cost_minor) FILTER (WHERE c.kind = 'other'), 0),
        coalesce(sum(c.cost_minor * c.wasted), 0)
      FROM (SELECT NEW.id AS id) l LEFT JOIN lot_outcomes o ON o.lot_id = l.id LEFT JOIN cost_lines c ON c.lot_id = l.id;
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
END;
--> statement-breakpoint
CREATE TRIGGER lots_only_opened BEFORE INSERT ON lots WHEN NEW.finished_at IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'a lot is opened before it is closed'); END;
--> statement-breakpoint
-- By hand no row can be made, changed or taken away so that it says other than the record.
CREATE TRIGGER closed_lots_as_written BEFORE INSERT ON closed_lots
  WHEN NOT EXISTS (SELECT 1 FROM lots l WHERE l.id = NEW.lot_id AND l.finished_at = NEW.finished_at AND l.status = NEW.status)
  BEGIN SELECT RAISE(ABORT, 'the figures of a closed lot follow the record'); END;
--> statement-breakpoint
CREATE TRIGGER closed_lots_fixed BEFORE UPDATE ON closed_lots
  WHEN NEW.finished_at <> OLD.finished_at OR NEW.lot_id <> OLD.lot_id OR NEW.status <> OLD.status OR NEW.number <> OLD.number
    OR NEW.method_id <> OLD.method_id OR NEW.fibre_id <> OLD.fibre_id OR NEW.dry_mass_mg <> OLD.dry_mass_mg
    OR NEW.estimate_minor <> OLD.estimate_minor OR NEW.first_quality IS NOT OLD.first_quality OR NEW.seconds IS NOT OLD.seconds
    OR NEW.rework IS NOT OLD.rework OR NEW.scrap IS NOT OLD.scrap OR NEW.seconds_value_minor IS NOT OLD.seconds_value_minor
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
-- What a customer has in hand, how many orders there were and when the last: without the orders themselves.
DROP INDEX orders_customer;
--> statement-breakpoint
CREATE INDEX orders_customer ON orders (customer_id, status, ordered_on);
--> statement-breakpoint
-- Swatches on the wall by goods and method, without the swatches themselves.
CREATE INDEX swatches_on_wall ON swatches (fibre_id, method_id, revision_id) WHERE archived_at IS NULL;
--> statement-breakpoint
-- Which lots were dyed by which formula, without the shares.
CREATE INDEX lot_colours_sold ON lot_colours (revision_id, swatch_id, lot_id);
--> statement-breakpoint
DROP INDEX lot_colours_revision;
