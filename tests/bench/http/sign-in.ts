/** A person who is signed in over HTTP: cookies, and the token that goes with what they send. */
export interface SignedIn {
  cookie: string;
  csrf: string;
}

const tokenIn = (page: string) => /name="_csrf" value="([^"]+)"/.exec(page)?.[1] ?? '';

/** @throws Error where the person is not let in */
export async function signInOverHttp(
  address: string,
  person: { email: string; password: string },
): Promise<SignedIn> {
  const cookies = new Map<string, string>();
  const cookie = () => [...cookies].map(([name, value]) => `${name}=${value}`).join('; ');
  const ask = async (path: string, init: RequestInit = {}) => {
    const headers = { cookie: cookie(), accept: 'text/html' };
    const answer = await fetch(address + path, { ...init, redirect: 'manual', headers });
    for (const line of answer.headers.getSetCookie()) {
      const [, name = '', value = ''] = /^([^=]+)=([^;]*)/.exec(line) ?? [];
      cookies.set(name, value);
    }
    return answer;
  };
  const _csrf = tokenIn(await (await ask('/sign-in')).text());
  const { status } = await ask('/sign-in', {
    method: 'POST',
    body: new URLSearchParams({ ...person, _csrf }),
  });
  if (status !== 303) throw new Error(`${person.email} is not let in: ${status}`);
  const csrf = tokenIn(await (await ask('/account')).text());
  return { cookie: cookie(), csrf };
}
