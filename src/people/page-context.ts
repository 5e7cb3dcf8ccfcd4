/** Who is signed in, as `loadPageContext` reads it. */
export const signedInPerson = `
  SELECT json_build_object('id', id, 'name', name, 'role', role, 'sessionGeneration', session_generation)
    FROM account WHERE id = $1::uuid AND disabled_at IS NULL`;

/** Whether the farm has its first account. */
export const hasAccounts = 'SELECT EXISTS (SELECT 1 FROM account)';
