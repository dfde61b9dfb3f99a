-- What the guards of the books let through: a line that names another as corrected without saying how was written into a closed
-- lot whatever it cost; a line was replaced twice, and both counted; a reversal took a discarded gram back as a used one, or by
-- another person or price, so that sums by these no longer came to nothing. Lines written before stay as they are.
CREATE TRIGGER cost_lines_how BEFORE INSERT ON cost_lines WHEN NEW.corrects_id IS NOT NULL AND NEW.correction IS NULL AND NEW.added = 0
  BEGIN SELECT RAISE(ABORT, 'a correction takes a line back or stands in its place'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_replaced_once BEFORE INSERT ON cost_lines WHEN NEW.correction = 'replacement'
    AND EXISTS (SELECT 1 FROM cost_lines r WHERE r.corrects_id = NEW.corrects_id AND r.correction = 'replacement')
  BEGIN SELECT RAISE(ABORT, 'one line stands in the place of another'); END;
--> statement-breakpoint
CREATE TRIGGER cost_lines_reversal_alike BEFORE INSERT ON cost_lines WHEN NEW.correction = 'reversal'
    AND EXISTS (SELECT 1 FROM cost_lines o WHERE o.id = NEW.corrects_id AND (o.wasted <> NEW.wasted OR o.dye_id IS NOT NEW.dye_id
      OR o.auxiliary_id IS NOT NEW.auxiliary_id OR o.person_id IS NOT NEW.person_id OR o.step_id IS NOT NEW.step_id
      OR o.quantity_unit <> NEW.quantity_unit OR o.price_minor <> NEW.price_minor OR o.per_quantity <> NEW.per_quantity))
  BEGIN SELECT RAISE(ABORT, 'a reversing cost line takes one line back, whole'); END;
