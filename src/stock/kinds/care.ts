import type { FigureBasis } from '../../generated/prisma/enums.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { POISONOUS_SQL, poisonousIn } from './poison.rules.ts';

/** One figure of care as it holds for a kind or a lot, numbers in canonical units. */
export interface CareValue {
  readonly low: number | null;
  readonly high: number | null;
  readonly words: string | null;
  readonly basis: FigureBasis;
  readonly source: string;
  /** Whose figure it is: the lot's own, its taxon's or its group's. */
  readonly from: 'lot' | 'taxon' | 'group';
}

/** Figures by name (`par_range`, `flow`, …; the names are in `care-figures.ts`). A figure nobody states is missing. */
export type Care = Readonly<Record<string, CareValue>>;

/** The care of a kind that the library does not know. */
const noCare: Care = Object.freeze({});

interface FigureRow extends Omit<CareValue, 'from'> {
  subject: string;
  figure: string;
  from: CareValue['from'];
}

const ofKinds = `
  SELECT kind.id AS subject, care_figure.figure, care_figure.low, care_figure.high, care_figure.words,
         care_figure.basis, care_figure.source, owner.rank AS "from"
    FROM kind
    JOIN kind AS owner ON owner.id IN (kind.id, kind.parent_id)
    JOIN care_figure ON care_figure.kind_id = owner.id
   WHERE ($1::uuid[] IS NULL OR kind.id = ANY($1::uuid[])) AND ($2::text IS NULL OR care_figure.figure = $2::text)
   ORDER BY (owner.id = kind.id), care_figure.figure`;

const ofLots = `
  SELECT lot_id AS subject, figure, low, high, words, basis, source, 'lot' AS "from"
    FROM care_figure WHERE lot_id = ANY($1::uuid[])`;

const namesOfLots = `
  SELECT lot.id, lot.trade_name AS "tradeName", coalesce(named.scientific_name, '') AS "identifiedAs"
    FROM lot LEFT JOIN LATERAL (SELECT scientific_name FROM identification WHERE lot_id = lot.id
                                 ORDER BY date_identified DESC, created_at DESC LIMIT 1) AS named ON true
   WHERE lot.id = ANY($1::uuid[]) AND lot.trade_name || ' ' || coalesce(named.scientific_name, '') ~* '${POISONOUS_SQL}'`;

const chosenLots = `
  SELECT lot.id, lot.kind_id AS "kindId" FROM lot
   WHERE ($1::uuid[] IS NULL OR lot.id = ANY($1::uuid[]))
     AND ($2::uuid IS NULL OR EXISTS (SELECT 1 FROM lot_place WHERE lot_id = lot.id AND system_id = $2::uuid))`;

function gather(rows: readonly FigureRow[]): Map<string, Record<string, CareValue>> {
  const care = new Map<string, Record<string, CareValue>>();
  for (const { subject, figure, ...value } of rows) {
    const figures = care.get(subject) ?? {};
    figures[figure] = value;
    care.set(subject, figures);
  }
  return care;
}

/**
 * Every kind's care: its own figures over its group's. One query.
 * @param filter only these kinds, only this figure of each, or both
 */
export async function kindCare(
  reader: SqlReader,
  filter: { kindIds?: readonly string[]; figure?: string } = {},
): Promise<Map<string, Care>> {
  const { rows } = await reader.query<FigureRow>(ofKinds, [filter.kindIds ?? null, filter.figure ?? null]);
  return gather(rows);
}

/**
 * The care of lots: the lot's own figures over its taxon's over its group's. At most five queries, however many lots
 * there are; lots without figures of their own share their kind's object.
 * @param filter lots standing in one system, lots by id, or both; every lot when empty
 */
export async function lotCare(
  reader: SqlReader,
  filter: { systemId?: string | undefined; lotIds?: readonly string[] | undefined } = {},
): Promise<Map<string, Care>> {
  const values = [filter.lotIds ?? null, filter.systemId ?? null];
  return careOf(reader, (await reader.query<{ id: string; kindId: string }>(chosenLots, values)).rows);
}

/** The same for lots whose kinds are known already. Three queries, and one more where a lot's name tells of poison. */
export async function careOf(
  reader: SqlReader,
  lots: readonly { id: string; kindId: string }[],
): Promise<Map<string, Care>> {
  const ids = lots.map((lot) => lot.id);
  const [kinds, figures, names] = await Promise.all([
    kindCare(reader, { kindIds: [...new Set(lots.map(({ kindId }) => kindId))] }),
    reader.query<FigureRow>(ofLots, [ids]),
    reader.query<NamesOfLot>(namesOfLots, [ids]),
  ]);
  const own = gather(figures.rows);
  const named = new Map(names.rows.map((row) => [row.id, row]));
  const known = names.rows.length === 0 ? kinds : await kindCare(reader, { figure: 'caution' });
  const poison = [...known.values()].find(isPoisonous)?.caution;
  return new Map(
    lots.map(({ id, kindId }) => {
      const inherited = kinds.get(kindId) ?? noCare;
      const figures = own.get(id);
      const care = figures === undefined ? inherited : { ...inherited, ...figures };
      return [id, withPoison(care, named.get(id), poison)];
    }),
  );
}

const figureOfLots = `
  SELECT lot_id AS subject, figure, low, high, words, basis, source, 'lot' AS "from"
    FROM care_figure WHERE figure = $2::text AND lot_id = ANY($1::uuid[])`;

/** One figure of some lots, the lot's own over its taxon's over its group's, and of every kind. Two queries. */
export async function figureOf(
  reader: SqlReader,
  lots: readonly { id: string; kindId: string }[],
  figure: string,
): Promise<{
  lots: ReadonlyMap<string, CareValue | undefined>;
  kinds: ReadonlyMap<string, CareValue | undefined>;
}> {
  const ids = lots.map(({ id }) => id);
  const [ofKind, { rows }] = await Promise.all([
    kindCare(reader, { figure }),
    reader.query<FigureRow>(figureOfLots, [ids, figure]),
  ]);
  const own = gather(rows);
  const kinds = new Map([...ofKind].map(([id, care]) => [id, care[figure]]));
  return {
    lots: new Map(lots.map(({ id, kindId }) => [id, own.get(id)?.[figure] ?? kinds.get(kindId)])),
    kinds,
  };
}

interface NamesOfLot {
  id: string;
  tradeName: string;
  identifiedAs: string;
}

/** True where the caution of a care tells of palytoxin. */
export const isPoisonous = (care: Care): boolean => /palytoxin/i.test(care.caution?.words ?? '');

/** What is said where no kind of the farm's library tells of it any more. */
const POISON: CareValue = {
  low: null,
  high: null,
  words: 'May hold palytoxin: gloves and eye protection, no boiling, no hot water, no dry scrubbing of rock.',
  basis: 'published',
  source: 'MMWR 64 (2015) 852',
  from: 'lot',
};

/** A lot kept as another kind that is identified, or sold, as one that may hold palytoxin has that kind's caution as well. */
function withPoison(care: Care, names: NamesOfLot | undefined, known: CareValue | undefined): Care {
  if (names === undefined || isPoisonous(care)) return care;
  const name = poisonousIn([names.identifiedAs, names.tradeName]);
  if (name === null) return care;
  const { words, basis, source } = known ?? POISON;
  const own = care.caution?.words ?? '';
  const why = `Named ${name}; ${source}`;
  return { ...care, caution: { ...POISON, words: `${words ?? ''} ${own}`.trim(), basis, source: why } };
}
