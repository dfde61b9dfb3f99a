-- A finished lot takes no late stock, with one way in: the owner's correction of a cost line whose quantity was wrong, which
-- sets the container's ledger right in the same stroke. Without it the cost lines and the ledger would part for good.
DROP TRIGGER stock_ledger_finished_lot;
--> statement-breakpoint
CREATE TRIGGER stock_ledger_finished_lot BEFORE INSERT ON stock_ledger
  WHEN NEW.lot_id IS NOT NULL AND (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM cost_lines c WHERE c.lot_id = NEW.lot_id AND c.stock_lot_id = NEW.stock_lot_id
      AND c.correction = 'reversal' AND c.written_at = NEW.recorded_at AND NEW.kind IN ('issue', 'reversal'))
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
