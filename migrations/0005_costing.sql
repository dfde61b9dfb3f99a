-- Money after the fact: how a cost line was valued, why one was corrected and by whom, which lot dyed again what another
-- had left, and the exports that a studio wants again every month.

-- How a material was valued; null for what has no container price (time, goods at a list price, other).
ALTER TABLE cost_lines ADD COLUMN valuation TEXT CHECK (valuation IN ('specific', 'movingAverage'));
--> statement-breakpoint
-- A correction is two lines: one takes the wrong one back whole, one says what is right. Both point at the wrong line.
ALTER TABLE cost_lines ADD COLUMN correction TEXT CHECK (correction IN ('reversal', 'replacement'));
--> statement-breakpoint
ALTER TABLE cost_lines ADD COLUMN reason TEXT NOT NULL DEFAULT '';
--> statement-breakpoint
ALTER TABLE cost_lines ADD COLUMN written_by INTEGER REFERENCES people (id);
--> statement-breakpoint
CREATE UNIQUE INDEX cost_lines_reversed_once ON cost_lines (corrects_id) WHERE correction = 'reversal';
--> statement-breakpoint
CREATE TRIGGER cost_lines_reversal BEFORE INSERT ON cost_lines WHEN NEW.correction = 'reversal'
    AND NOT EXISTS (SELECT 1 FROM cost_lines o WHERE o.id = NEW.corrects_id AND o.correction IS NOT 'reversal'
      AND o.quantity = -NEW.quantity AND o.cost_minor = -NEW.cost_minor AND o.kind = NEW.kind AND o.stock_lot_id IS NEW.stock_lot_id)
  BEGIN SELECT RAISE(ABORT, 'a reversing cost line takes one line back, whole'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_replacement BEFORE INSERT ON cost_lines WHEN NEW.correction = 'replacement'
    AND NOT EXISTS (SELECT 1 FROM cost_lines r WHERE r.corrects_id = NEW.corrects_id AND r.correction = 'reversal')
  BEGIN SELECT RAISE(ABORT, 'a cost line is taken back before another stands for it'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_because BEFORE INSERT ON cost_lines
    WHEN NEW.correction IS NOT NULL AND (NEW.corrects_id IS NULL OR NEW.written_by IS NULL OR length(trim(NEW.reason)) = 0)
  BEGIN SELECT RAISE(ABORT, 'a correction says what it corrects, why, and who says so'); END;
--> statement-breakpoint

-- Pieces of one lot that another lot dyed again. Append-only: the newest row of a rework lot counts; of_lot_id null says
-- that it was none after all.
CREATE TABLE lot_reworks (
  id INTEGER PRIMARY KEY,
  rework_lot_id INTEGER NOT NULL REFERENCES lots (id),
  of_lot_id INTEGER REFERENCES lots (id),
  noted_at INTEGER NOT NULL,
  noted_by INTEGER NOT NULL REFERENCES people (id),
  CHECK (of_lot_id IS NULL OR of_lot_id <> rework_lot_id)
) STRICT;
--> statement-breakpoint
CREATE INDEX lot_reworks_lot ON lot_reworks (rework_lot_id);
--> statement-breakpoint
CREATE INDEX lot_reworks_of ON lot_reworks (of_lot_id) WHERE of_lot_id IS NOT NULL;
--> statement-breakpoint
CREATE TRIGGER lot_reworks_no_update BEFORE UPDATE ON lot_reworks BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER lot_reworks_no_delete BEFORE DELETE ON lot_reworks BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint

-- A file that is wanted again. columns_json: names in their order, [] for all. span 'fixed' goes by from_on and to_on;
-- the others move with the calendar.
CREATE TABLE saved_exports (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (length(trim(name)) > 0),
  row_kind TEXT NOT NULL CHECK (row_kind IN ('lot', 'costLine')),
  format TEXT NOT NULL CHECK (format IN ('csv', 'xlsx')),
  span TEXT NOT NULL CHECK (span IN ('fixed', 'thisMonth', 'lastMonth', 'thisYear', 'lastYear', 'everything')),
  from_on TEXT CHECK (from_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  to_on TEXT CHECK (to_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  order_id INTEGER REFERENCES orders (id),
  customer_id INTEGER REFERENCES customers (id),
  method_id INTEGER REFERENCES methods (id),
  fibre_id INTEGER REFERENCES fibres (id),
  columns_json TEXT NOT NULL CHECK (json_valid(columns_json)),
  made_at INTEGER NOT NULL,
  made_by INTEGER NOT NULL REFERENCES people (id),
  version INTEGER NOT NULL DEFAULT 1
) STRICT;
