/** The units that an account chose, as SQL. */
export const ownUnits = (account: string) => `
  json_build_object('volume', ${account}.volume_unit, 'length', ${account}.length_unit, 'mass', ${account}.mass_unit,
                    'temperature', ${account}.temperature_unit, 'alkalinity', ${account}.alkalinity_unit, 'salinity', ${account}.salinity_unit)`;

/**
 * Who is signed in, as `loadPageContext` reads it: with the role at the site that `siteId` (SQL) gives. Owners are owners
 * everywhere.
 */
export const signedInPerson = (siteId: string) => `
  SELECT json_build_object('id', id, 'name', name, 'role', CASE WHEN role = 'owner' THEN role ELSE
           coalesce((SELECT here.role FROM site_person AS here WHERE here.account_id = account.id AND here.site_id = (${siteId})), role) END, 'sessionGeneration', session_generation,
           'units', ${ownUnits('account')})
    FROM account WHERE id = $1::uuid AND disabled_at IS NULL`;

/** Whether the farm has its first account. */
export const hasAccounts = 'SELECT EXISTS (SELECT 1 FROM account)';

/** Whether the account that asks belongs to the site `site.id`, as SQL. An account that is named at none belongs to all. */
export const belongsHere = `
  (NOT EXISTS (SELECT FROM site_person WHERE account_id = $1::uuid)
   OR EXISTS (SELECT FROM site_person WHERE account_id = $1::uuid AND site_id = site.id))`;
