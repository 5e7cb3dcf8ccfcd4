-- Today names the first three lots of which no size is noted, and says how many there are: without this it sorted all lots.
CREATE INDEX lot_unmeasured ON lot (site_id, rtrim(coalesce(nullif(own_code, ''), code), '0123456789'), length(coalesce(nullif(own_code, ''), code)),
  coalesce(nullif(own_code, ''), code)) WHERE pieces > 0 AND size_mm IS NULL;
