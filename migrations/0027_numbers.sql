-- The next free card number is the highest of those coded S-0001, S-0002, …: found in an index of numbers and not by reading every card.
CREATE INDEX swatches_card_number ON swatches (cast(substr(code, 3) AS INTEGER))
  WHERE code LIKE 'S-%' AND substr(code, 3) NOT GLOB '*[^0-9]*' AND length(code) BETWEEN 3 AND 12;
--> statement-breakpoint
-- Few swatches are in the archive. Whoever counts or draws the others looks there, and need not look at each of them.
CREATE INDEX swatches_in_archive ON swatches (id) WHERE archived_at IS NOT NULL;
