-- Found out later: a cost that was forgotten when a lot was closed, a container that was closed or recalled in error. None of
-- it changes what was written; each is a line of its own, with its day, its reason and its person.

-- 1 of a line that was forgotten when the lot was closed. It corrects no other line, and stands like any of the first.
ALTER TABLE cost_lines ADD COLUMN added INTEGER NOT NULL DEFAULT 0 CHECK (added IN (0, 1));
--> statement-breakpoint
-- Made by the sender: the same line sent twice is written once.
ALTER TABLE cost_lines ADD COLUMN client_id TEXT;
--> statement-breakpoint
CREATE UNIQUE INDEX cost_lines_client ON cost_lines (client_id) WHERE client_id IS NOT NULL;
--> statement-breakpoint
DROP TRIGGER cost_lines_finished;
--> statement-breakpoint
CREATE TRIGGER cost_lines_finished BEFORE INSERT ON cost_lines
  WHEN NEW.corrects_id IS NULL AND NEW.added = 0 AND (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_added BEFORE INSERT ON cost_lines
  WHEN NEW.added = 1 AND (NEW.corrects_id IS NOT NULL OR NEW.correction IS NOT NULL OR NEW.written_by IS NULL
    OR length(trim(NEW.reason)) = 0 OR NEW.quantity <= 0 OR (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NULL)
  BEGIN SELECT RAISE(ABORT, 'a forgotten cost is added to a closed lot, with the reason and by somebody'); END;
--> statement-breakpoint
-- The second way in for late stock: the issue that a forgotten material is written with.
DROP TRIGGER stock_ledger_finished_lot;
--> statement-breakpoint
CREATE TRIGGER stock_ledger_finished_lot BEFORE INSERT ON stock_ledger
  WHEN NEW.lot_id IS NOT NULL AND (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM cost_lines c WHERE c.lot_id = NEW.lot_id AND c.stock_lot_id = NEW.stock_lot_id
      AND c.correction = 'reversal' AND c.written_at = NEW.recorded_at AND NEW.kind IN ('issue', 'reversal'))
    AND NOT EXISTS (SELECT 1 FROM cost_lines c WHERE c.lot_id = NEW.lot_id AND c.stock_lot_id = NEW.stock_lot_id
      AND c.added = 1 AND c.written_at = NEW.recorded_at AND c.quantity = -NEW.quantity AND NEW.kind = 'issue')
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint

-- When a container was closed, opened again, recalled and cleared, by whom and why. stock_lots says how it is now; this says how
-- it came to be so. through_id: the powder whose recall or clearing this solution followed. Recalls and closings from before
-- this table was made are in it without the person, who was not kept then.
CREATE TABLE stock_lot_events (
  id INTEGER PRIMARY KEY,
  stock_lot_id INTEGER NOT NULL REFERENCES stock_lots (id),
  kind TEXT NOT NULL CHECK (kind IN ('closed', 'reopened', 'recalled', 'recallLifted')),
  reason TEXT NOT NULL DEFAULT '',
  through_id INTEGER REFERENCES stock_lots (id),
  at INTEGER NOT NULL,
  by_person_id INTEGER REFERENCES people (id),
  CHECK (kind = 'closed' OR length(trim(reason)) > 0)
) STRICT;
--> statement-breakpoint
CREATE INDEX stock_lot_events_stock_lot ON stock_lot_events (stock_lot_id);
--> statement-breakpoint
CREATE TRIGGER stock_lot_events_no_update BEFORE UPDATE ON stock_lot_events BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER stock_lot_events_no_delete BEFORE DELETE ON stock_lot_events BEGIN SELECT RAISE(ABORT, 'what happened is never rewritten'); END;
--> statement-breakpoint
INSERT INTO stock_lot_events (stock_lot_id, kind, reason, through_id, at, by_person_id)
  SELECT s.id, 'recalled', coalesce(nullif(trim(s.recall_reason), ''), 'not noted'),
      (SELECT p.id FROM stock_lots p WHERE p.id = s.source_stock_lot_id AND p.recalled_at = s.recalled_at), s.recalled_at, NULL
    FROM stock_lots s WHERE s.recalled_at IS NOT NULL
  UNION ALL SELECT id, 'closed', '', NULL, closed_at, NULL FROM stock_lots WHERE closed_at IS NOT NULL;
