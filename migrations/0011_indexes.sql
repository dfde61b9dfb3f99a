-- Found by measuring a studio of thirty years (20 000 swatches, 50 000 lots, 2 000 000 log entries); tests/db/plans.test.ts
-- holds what each is for.
-- Whether an entry was voided or discarded was looked for in the whole log, once for every weighing of a lot.
CREATE INDEX log_entries_refers_to ON log_entries (refers_to_id) WHERE refers_to_id IS NOT NULL;
--> statement-breakpoint
-- The lots whose goods a container is.
CREATE INDEX lots_goods ON lots (goods_stock_lot_id) WHERE goods_stock_lot_id IS NOT NULL;
--> statement-breakpoint
-- Lots of one state, newest first.
CREATE INDEX lots_status_newest ON lots (status, id);
--> statement-breakpoint
-- What the words of a search are looked for in, without the plans beside it.
CREATE INDEX lots_words ON lots (id, number, goods_text);
--> statement-breakpoint
-- What lots cost by kind, without reading the lines themselves.
CREATE INDEX cost_lines_sums ON cost_lines (lot_id, kind, cost_minor, wasted);
--> statement-breakpoint
-- The target that holds now, of each line of a weigh-up.
CREATE INDEX lot_targets_component ON lot_targets (component_id);
--> statement-breakpoint
-- Powder that went into a solution, and the plans that name a container.
CREATE INDEX stock_ledger_solution ON stock_ledger (solution_id) WHERE solution_id IS NOT NULL;
--> statement-breakpoint
CREATE INDEX lot_components_stock_lot ON lot_components (stock_lot_id) WHERE stock_lot_id IS NOT NULL;
