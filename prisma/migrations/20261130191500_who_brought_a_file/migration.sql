-- Who brought in a file. A row of one that names nobody was done by nobody known: whoever brought it in did not.
CREATE FUNCTION brought_by(file uuid) RETURNS uuid LANGUAGE sql STABLE AS $$
  SELECT account_id FROM import WHERE id = $1
$$;
