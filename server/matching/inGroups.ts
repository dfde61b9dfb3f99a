/** Answers what belongs together in one go, and gives the answers back in the order in which they were asked. `answer` gives one
 *  for each of a group, in order. */
export async function inGroups<Asked, Answer>(
  asked: readonly Asked[],
  keyOf: (one: Asked) => string,
  answer: (first: Asked, group: readonly Asked[]) => Promise<readonly Answer[]>,
): Promise<Answer[]> {
  const answers = new Map<number, Answer>();
  for (const group of Map.groupBy(asked.entries(), ([, one]) => keyOf(one)).values()) {
    const [first] = group;
    if (!first) continue;
    const found = await answer(
      first[1],
      group.map(([, one]) => one),
    );
    found.forEach((one, i) => {
      const place = group[i]?.[0];
      if (place !== undefined) answers.set(place, one);
    });
  }
  return asked.flatMap((_, place) => answers.get(place) ?? []);
}
