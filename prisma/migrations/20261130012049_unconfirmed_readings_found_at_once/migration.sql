-- Readings that nobody has repeated yet: few, among all that a probe ever sent. A forecast asks for them however old they are.
CREATE INDEX reading_unconfirmed ON reading (system_id, quantity_code, at) WHERE trust = 'unconfirmed' AND voided_at IS NULL;
