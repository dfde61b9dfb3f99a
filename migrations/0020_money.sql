-- Money that moves after the receipt, and how stock was valued when. A receipt stands as it was written; what a supplier, a
-- carrier or a customs office asks for later, and what one of them gives back, are lines of their own with their day and reason.
CREATE TABLE stock_money (
  id INTEGER PRIMARY KEY,
  stock_lot_id INTEGER NOT NULL REFERENCES stock_lots (id),
  kind TEXT NOT NULL CHECK (kind IN ('freight', 'bill', 'credit')),
  -- Below nothing of a credit.
  amount_minor INTEGER NOT NULL CHECK (amount_minor <> 0),
  reason TEXT NOT NULL CHECK (length(trim(reason)) > 0),
  at INTEGER NOT NULL,
  recorded_at INTEGER NOT NULL,
  by_person_id INTEGER NOT NULL REFERENCES people (id),
  client_id TEXT UNIQUE,
  content_digest TEXT CHECK (length(content_digest) = 64),
  CHECK ((kind = 'credit') = (amount_minor < 0))
) STRICT;
--> statement-breakpoint
CREATE INDEX stock_money_stock_lot ON stock_money (stock_lot_id, at);
--> statement-breakpoint
CREATE TRIGGER stock_money_as_bought BEFORE INSERT ON stock_money
  WHEN (SELECT source_stock_lot_id FROM stock_lots WHERE id = NEW.stock_lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'a solution was made, not bought'); END;
--> statement-breakpoint
CREATE TRIGGER stock_money_no_more_than_paid BEFORE INSERT ON stock_money
  WHEN (SELECT s.price_minor + s.freight_minor + coalesce((SELECT sum(m.amount_minor) FROM stock_money m WHERE m.stock_lot_id = s.id), 0)
      FROM stock_lots s WHERE s.id = NEW.stock_lot_id) + NEW.amount_minor < 0
  BEGIN SELECT RAISE(ABORT, 'no more is given back than was paid'); END;
--> statement-breakpoint
CREATE TRIGGER stock_money_no_update BEFORE UPDATE ON stock_money BEGIN SELECT RAISE(ABORT, 'money is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER stock_money_no_delete BEFORE DELETE ON stock_money BEGIN SELECT RAISE(ABORT, 'money is never rewritten'); END;
--> statement-breakpoint

-- When the studio began to value its stock otherwise: what was written off before keeps its value. Of the time before this table
-- nothing is known, so the valuation of today counts for it until it changes.
CREATE TABLE valuation_changes (
  id INTEGER PRIMARY KEY,
  valuation_before TEXT NOT NULL CHECK (valuation_before IN ('specific', 'movingAverage')),
  valuation TEXT NOT NULL CHECK (valuation IN ('specific', 'movingAverage')),
  changed_at INTEGER NOT NULL,
  changed_by INTEGER NOT NULL REFERENCES people (id),
  CHECK (valuation <> valuation_before)
) STRICT;
--> statement-breakpoint
CREATE TRIGGER valuation_changes_no_update BEFORE UPDATE ON valuation_changes BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER valuation_changes_no_delete BEFORE DELETE ON valuation_changes BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint

-- A credit on a closed lot is an added line of a negative quantity: one piece of money back, at its amount. Materials and time
-- are still only added.
DROP TRIGGER cost_lines_added;
--> statement-breakpoint
CREATE TRIGGER cost_lines_added BEFORE INSERT ON cost_lines
  WHEN NEW.added = 1 AND (NEW.corrects_id IS NOT NULL OR NEW.correction IS NOT NULL OR NEW.written_by IS NULL
    OR length(trim(NEW.reason)) = 0 OR (NEW.quantity <= 0 AND NOT (NEW.kind = 'other' AND NEW.quantity = -1 AND NEW.quantity_unit = 'piece'))
    OR (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NULL)
  BEGIN SELECT RAISE(ABORT, 'a forgotten cost is added to a closed lot, with the reason and by somebody'); END;
--> statement-breakpoint
-- What seconds bring without a second is a figure without a thing. Outcomes of before stay as they were written.
CREATE TRIGGER lot_outcomes_seconds_value BEFORE INSERT ON lot_outcomes WHEN NEW.seconds = 0 AND NEW.seconds_value_minor > 0
  BEGIN SELECT RAISE(ABORT, 'no seconds, no value of seconds'); END;
