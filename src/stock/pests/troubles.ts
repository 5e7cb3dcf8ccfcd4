import { waterTroubles } from '../../alerts/water-trouble.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { type GateAnswer, gateAnswer, troubleWords } from './gate.rules.ts';
import { type GatedMove, keepReasons, refuseUnanswered } from './gate.ts';
import { watersOfLots, watersOfSlots } from './waters.ts';

/**
 * What speaks against moves that end in water with an open alert, by lot: from a place there, or from elsewhere. A first place,
 * and a move into quarantine or out of that water, is free.
 */
export async function troublesOfMoves(
  reader: SqlReader,
  moves: readonly GatedMove[],
): Promise<ReadonlyMap<string, GateAnswer>> {
  const from = await watersOfLots(
    reader,
    moves.map(({ lotId }) => lotId),
  );
  const slots = await watersOfSlots(
    reader,
    moves.flatMap(({ slotIds }) => slotIds.slice(0, 1)),
  );
  const going = moves.flatMap((move) => {
    const [was, to] = [from.get(move.lotId), slots.get(move.slotIds[0] ?? '')];
    return was?.stands === true && to !== undefined && to.tankId === null && !to.quarantine
      ? [{ lotId: move.lotId, systemId: to.systemId }]
      : [];
  });
  const found = await waterTroubles(reader, [...new Set(going.map(({ systemId }) => systemId))]);
  return new Map(
    going.map(({ lotId, systemId }) => {
      const titles = found.filter((one) => one.systemId === systemId).map(({ title }) => title);
      return [lotId, gateAnswer('move', [], null, titles)];
    }),
  );
}

/**
 * Asks why lots are moved within water with an open alert, or into it, and keeps the reason: a move that somebody chose just
 * now, and one that a plan made before the alert opened. What has happened already is not held up.
 * @throws Refusal as {@link passGate}
 */
export async function passTroubles(
  work: Work,
  moves: readonly GatedMove[],
  said: { despite: string; field?: string },
): Promise<void> {
  const answers = await troublesOfMoves(readerOf(work.tx), moves);
  refuseUnanswered(moves, 'move', answers, said);
  await keepReasons(work, 'move', moves, answers, said.despite);
}

/** What each water says to lamps over it that a plan turns: titles of its open alerts in words; '' where none is open. One query. */
export async function troublesOfWaters(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<ReadonlyMap<string, string>> {
  const found = await waterTroubles(reader, [...new Set(systemIds)]);
  const titles = Map.groupBy(found, ({ systemId }) => systemId);
  return new Map([...titles].map(([id, some]) => [id, troubleWords(some.map(({ title }) => title))]));
}

/**
 * Asks why lamps are turned over water with an open alert, as of moves in it; who did it and why stands with the step.
 * @throws Refusal 409 beside "despite" where no reason is given
 */
export async function passLampTrouble(
  work: Work,
  { lamp, systemId }: { lamp: string; systemId: string },
  despite: string,
): Promise<void> {
  const why = (await troublesOfWaters(readerOf(work.tx), [systemId])).get(systemId) ?? '';
  if (why === '' || despite !== '') return;
  throw new Refusal(`${lamp}: ${why} Say why you turn it anyway.`, { status: 409, field: 'despite' });
}

/** Said where a piece of work waits for water with an open alert. */
export const waitsForWater = (why: string): string =>
  `${why} Leave the lots where they are. Where it must be done now, do it on the page of the plan and say why.`;
