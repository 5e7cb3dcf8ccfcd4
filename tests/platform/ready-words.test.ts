import { describe, expect, test } from 'vitest';
import { networkAddresses, tabletReach } from '../../src/platform/words/addresses.ts';
import { readyWords } from '../../src/ready-words.ts';

const at = (host: string, publicUrl?: string) => ({ address: `http://${host}:8080`, host, publicUrl });

test('a start on this machine alone says so, and how tablets are let in', () => {
  expect(readyWords(at('127.0.0.1'), false)).toEqual([
    'Evenwater is ready: http://127.0.0.1:8080',
    'Open that address in a browser to make the owner’s account and the farm.',
    'Only this machine reaches it so far. For the tablets of the house, stop it and start it with HOST=0.0.0.0.',
  ]);
});

test('a start for the house names the addresses that tablets open', () => {
  expect(readyWords(at('0.0.0.0'), true, ['192.168.4.20'])).toEqual([
    'Evenwater is ready: http://localhost:8080',
    'Tablets on the same network open http://192.168.4.20:8080',
    'Rounds survive a reload without the network only over HTTPS: npm run certificate makes what that needs.',
    'Set PUBLIC_URL to the address that people use (such as http://192.168.4.20:8080), so that links in mails and codes on tags lead there.',
  ]);
});

test('a set address is the one that people are told', () => {
  expect(readyWords(at('0.0.0.0', 'https://water.example'), true, ['192.168.4.20'])).toEqual([
    'Evenwater is ready: http://localhost:8080',
    'People reach it at https://water.example',
  ]);
});

describe('how tablets reach it, as the pages say it', () => {
  const socket = { protocol: 'http', port: 8080 };
  const house = ['192.168.4.20'];

  test('a service that answers its own machine alone gives no address, and says how to let tablets in', () => {
    const { open, words } = tabletReach({ HOST: '127.0.0.1' }, socket, house);
    expect(open).toEqual([]);
    expect(words).toContain('HOST=0.0.0.0');
  });

  test('one that answers the house gives the addresses to scan', () => {
    expect(tabletReach({ HOST: '0.0.0.0' }, socket, house).open).toEqual(['http://192.168.4.20:8080']);
    expect(tabletReach({ HOST: '192.168.9.1' }, socket, house).open).toEqual(['http://192.168.9.1:8080']);
  });

  test('a set address goes first, where it leads further than this machine', () => {
    const set = { HOST: '0.0.0.0', PUBLIC_URL: 'https://water.example' };
    expect(tabletReach(set, socket, house).open).toEqual(['https://water.example']);
    const alone = { HOST: '0.0.0.0', PUBLIC_URL: 'http://localhost:8080' };
    expect(tabletReach(alone, socket, house).open).toEqual(['http://192.168.4.20:8080']);
  });

  test('in a container, whose own addresses no tablet reaches, it gives none and asks for PUBLIC_URL', () => {
    const shipped = { HOST: '0.0.0.0', PUBLIC_URL: 'http://localhost:8080' };
    const { open, words } = tabletReach(shipped, socket, networkAddresses(true));
    expect(open).toEqual([]);
    expect(words).toContain('PUBLIC_URL set to the address that tablets open');
  });
});
