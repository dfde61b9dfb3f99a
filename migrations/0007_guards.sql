-- Holes found by trying raw statements against a finished lot: stock booked to it late, a lot that goes back to "planned"
-- (which would open its plan again), and a reading whose numbers change under the swatch that stands on it.
CREATE TRIGGER stock_ledger_finished_lot BEFORE INSERT ON stock_ledger
  WHEN NEW.lot_id IS NOT NULL AND (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint
CREATE TRIGGER lots_never_back BEFORE UPDATE OF status ON lots
  WHEN OLD.status <> 'planned' AND NEW.status = 'planned'
  BEGIN SELECT RAISE(ABORT, 'work on the lot has begun'); END;
--> statement-breakpoint
CREATE TRIGGER colour_readings_fixed BEFORE UPDATE ON colour_readings
  WHEN NEW.l <> OLD.l OR NEW.a <> OLD.a OR NEW.b <> OLD.b OR NEW.illuminant <> OLD.illuminant OR NEW.observer <> OLD.observer OR NEW.source <> OLD.source
    OR NEW.swatch_id IS NOT OLD.swatch_id OR NEW.lot_id IS NOT OLD.lot_id OR NEW.order_line_id IS NOT OLD.order_line_id OR NEW.area_share_ppm IS NOT OLD.area_share_ppm
    OR NEW.as_typed <> OLD.as_typed OR NEW.read_at <> OLD.read_at OR NEW.read_by <> OLD.read_by
  BEGIN SELECT RAISE(ABORT, 'a reading is withdrawn, never changed'); END;
--> statement-breakpoint
CREATE TRIGGER colour_readings_no_delete BEFORE DELETE ON colour_readings
  BEGIN SELECT RAISE(ABORT, 'a reading is withdrawn, never changed'); END;
