import { recordEntry } from '../server/bench/recordEntry.ts';
import type { Actor, Deps } from '../server/deps.ts';
import { insertPerson } from '../server/people/queries.ts';
import { storePhoto } from '../server/photos/store.ts';
import { insertScale, theStudio, updateStudio } from '../server/settings/queries.ts';
import { editSwatch } from '../server/swatches/addSwatch.ts';
import { swatchById } from '../server/swatches/queries.ts';
import { stockTheLists } from './materials.ts';
import { layOf, picture } from './pictures.ts';
import { writeMethods } from './procedures.ts';
import { writeRecipes } from './shades.ts';
import { DAY_MS, moneyIn, type Named, type Sowing } from './sowing.ts';
import { liveTheYear, type Shot } from './year.ts';

/** Fills a studio that was just set up with the invented one, through the same rules as a person would use: a year of
 *  sampling, orders and lots that ends at this hour. The same hour gives the same studio. */
export async function sowSampleStudio(deps: Deps, owner: Actor): Promise<void> {
  const nowAt = deps.now();
  const clock = { at: nowAt - 366 * DAY_MS };
  let ids = 0;
  const own: Deps = { ...deps, now: () => clock.at, newId: () => `sample-${String(++ids).padStart(6, '0')}` };
  const shots = deps.db.transaction(() => sowYear(own, clock, nowAt, owner));
  // Encoding pictures waits for threads, which a transaction cannot.
  // One at a time in the books; while one is being encoded, the next is painted.
  let painted = shots.slice(0, 1).map(paint)[0];
  for (const [i, shot] of shots.entries()) {
    const png = await painted;
    if (!png) throw new Error('a picture is painted before it is kept');
    const kept = keepPicture(own, clock, shot, png);
    const next = shots[i + 1];
    painted = next && paint(next);
    await kept;
  }
}

const paint = (shot: Shot): Promise<Buffer> =>
  picture({
    name: shot.name,
    tones: shot.tones,
    ground: shot.ground,
    lay: layOf(shot.method),
    isYarn: shot.fibre.startsWith('merino'),
  });

function sowYear(deps: Deps, clock: { at: number }, nowAt: number, owner: Actor): Shot[] {
  const { db } = deps;
  const studio = theStudio(db);
  const money = moneyIn(studio.currency);
  updateStudio(
    db,
    {
      sample: 1,
      labourRateMinorPerHour: money(22),
      overheadRateMinorPerHour: money(8.5),
      weighingTolerancePpm: 20_000,
      weighingFloorPpm: 10_000,
      stockConcPpm: 10_000,
    },
    studio.version,
  );
  insertScale(db, { name: 'Goods scale', readabilityMg: 1000, capacityMg: 15_000_000, isDefault: 0 });
  const name = owner.name.trim().toLowerCase() === 'maren' ? 'Tove' : 'Maren';
  const { id } = insertPerson(db, {
    name,
    role: 'dyer',
    passphraseHash: null,
    labourRateMinorPerHour: money(18.5),
    active: 1,
    createdAt: clock.at,
  });
  const s: Sowing = { deps, clock, nowAt, zone: studio.zone, owner, dyer: { personId: id, name, role: 'dyer' }, money };
  const lists = stockTheLists(s);
  const n: Named = { ...lists, methods: writeMethods(s, lists.auxiliaries) };
  return liveTheYear(s, n, writeRecipes(s, n.dyes));
}

async function keepPicture(deps: Deps, clock: { at: number }, shot: Shot, png: Buffer): Promise<void> {
  clock.at = shot.at;
  const photo = await storePhoto(deps, png, shot.by);
  if (shot.of.lotId !== undefined) {
    recordEntry(
      deps,
      {
        lotId: shot.of.lotId,
        kind: 'photo',
        text: shot.words,
        stepId: null,
        photoId: photo.id,
        clientId: deps.newId(),
        at: shot.at,
      },
      shot.by,
    );
  }
  const swatch = shot.of.swatchId === undefined ? undefined : swatchById(deps.db, shot.of.swatchId);
  if (!swatch) return;
  const { name, cardPlace, note, rating, version } = swatch;
  editSwatch(
    deps.db,
    swatch.id,
    { name, cardPlace, note, rating, photoId: photo.id, archived: false, version },
    clock.at,
  );
}
