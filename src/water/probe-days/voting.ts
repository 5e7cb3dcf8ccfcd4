/** SQL of each part of a question for readings: arrays of systems and of quantities, and the two ends of a time. */
interface VotingReadings {
  /** uuid[] */
  systems: string;
  /** text[] */
  codes: string;
  /** Left out itself. */
  since: string;
  /** Included. */
  until: string;
}

/** SQL: from the readings between two moments, but for those of probes without a vote; those of ended days that are packed among them. */
export const votingReadings = ({ systems, codes, since, until }: VotingReadings) => `FROM (
      SELECT * FROM reading_with_vote
       WHERE system_id = ANY(${systems}::uuid[]) AND quantity_code = ANY(${codes}::text[]) AND at > ${since} AND at <= ${until}
      UNION ALL
      SELECT packed.* FROM unnest(${systems}::uuid[]) AS asked(system_id) CROSS JOIN unnest(${codes}::text[]) AS wanted(code)
       CROSS JOIN LATERAL unpacked_with_vote(asked.system_id, wanted.code, ${since}, ${until}) AS packed WHERE packed.at > ${since}) AS reading`;
