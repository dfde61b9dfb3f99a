-- The doors: a second step for who wants one, devices that were let in before, and answers that are given a second time.

-- Whether owners have to have a second step.
ALTER TABLE studio ADD COLUMN second_step_for_owners INTEGER NOT NULL DEFAULT 0 CHECK (second_step_for_owners IN (0, 1));
--> statement-breakpoint
-- A browser that somebody signed in on keeps a secret for long, of which this is the hash. Its wrong tries are its own: strangers who
-- try the same name elsewhere do not hold it up.
CREATE TABLE known_devices (
  token_hash TEXT NOT NULL,
  person_id INTEGER NOT NULL REFERENCES people (id),
  known_at INTEGER NOT NULL,
  last_at INTEGER NOT NULL,
  PRIMARY KEY (token_hash, person_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
CREATE INDEX known_devices_person ON known_devices (person_id);
--> statement-breakpoint
-- The device of a try, where it was let in before; null for a stranger's.
ALTER TABLE sign_in_attempts ADD COLUMN device_hash TEXT;
--> statement-breakpoint
CREATE INDEX sign_in_attempts_device ON sign_in_attempts (device_hash, at) WHERE device_hash IS NOT NULL;
--> statement-breakpoint
-- Passkeys (W3C Web Authentication): the public half, with the host name that it answers to. Ids and keys are base64url.
CREATE TABLE passkeys (
  id INTEGER PRIMARY KEY,
  person_id INTEGER NOT NULL REFERENCES people (id),
  name TEXT NOT NULL CHECK (length(trim(name)) > 0),
  host_name TEXT NOT NULL,
  credential_id TEXT NOT NULL UNIQUE,
  public_key TEXT NOT NULL,
  -- How often it has signed, as it says itself; many say 0 for ever.
  use_count INTEGER NOT NULL CHECK (use_count >= 0),
  -- How the browser reaches it, as JSON.
  transports_json TEXT NOT NULL,
  added_at INTEGER NOT NULL,
  last_used_at INTEGER
) STRICT;
--> statement-breakpoint
CREATE INDEX passkeys_person ON passkeys (person_id);
--> statement-breakpoint
-- Time-based codes (RFC 6238). The secret is sealed by a key that is in no backup.
CREATE TABLE code_apps (
  person_id INTEGER PRIMARY KEY REFERENCES people (id),
  sealed_secret TEXT NOT NULL,
  begun_at INTEGER NOT NULL,
  -- From then on a code of it is asked for; null until a first code has shown that the phone has the secret.
  confirmed_at INTEGER,
  -- The time step of the latest code that was used: neither it nor an earlier one works again.
  last_step INTEGER NOT NULL DEFAULT 0
) STRICT;
--> statement-breakpoint
CREATE TRIGGER code_apps_once BEFORE UPDATE OF last_step ON code_apps WHEN NEW.last_step <= OLD.last_step
  BEGIN SELECT RAISE(ABORT, 'a time-based code works once'); END;
--> statement-breakpoint
-- Codes on paper for when the phone is lost. Only their hashes are kept.
CREATE TABLE recovery_codes (
  person_id INTEGER NOT NULL REFERENCES people (id),
  code_hash TEXT NOT NULL,
  made_at INTEGER NOT NULL,
  used_at INTEGER,
  PRIMARY KEY (person_id, code_hash)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
CREATE TRIGGER recovery_codes_once BEFORE UPDATE ON recovery_codes WHEN OLD.used_at IS NOT NULL
  BEGIN SELECT RAISE(ABORT, 'a recovery code works once'); END;
--> statement-breakpoint
-- What was answered to a request that carried an Idempotency-Key, for a day: the same request sent again gets the same answer and
-- creates nothing. While `status` is null it is under way, or was when the service ended.
CREATE TABLE kept_answers (
  person_id INTEGER NOT NULL REFERENCES people (id),
  key TEXT NOT NULL CHECK (length(key) BETWEEN 1 AND 255),
  -- SHA-256 of method, address and content.
  digest TEXT NOT NULL,
  begun_at INTEGER NOT NULL,
  status INTEGER,
  body TEXT,
  PRIMARY KEY (person_id, key),
  CHECK ((status IS NULL) = (body IS NULL))
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
CREATE INDEX kept_answers_begun ON kept_answers (begun_at);
