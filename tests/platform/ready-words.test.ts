import { expect, test } from 'vitest';
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
