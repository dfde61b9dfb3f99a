/* The blind path that a stranger takes: a measured library goes in through the service's own door, and colours that were kept
   back are asked for at `POST /api/v1/predict`. Scored by a colour library that the service does not use for its differences.

   node tests/bench/predictByApi.ts --url http://localhost:8420 --token TOKEN --data FOLDER [--every 7]

   Every so-many-th mixture is kept back, and three whole pairs of colourants besides. Four libraries are made, each with
   goods and a method of its own: with spectra and with CIELAB alone, from single colourants and with the mixtures that were
   not kept back. A token that may record is needed, and a studio that one does not mind filling. */
import { parseArgs } from 'node:util';
import { differenceCiede2000 } from 'culori';
import { labFromSpectrum } from '../../server/calc/colour/spectra.ts';
import { type MeasuredSample, type MeasuredSet, readMixtures } from './measuredMixtures.ts';
import { apiOf, quantile } from './runningService.ts';

const { values: asked } = parseArgs({
  options: {
    url: { type: 'string' },
    token: { type: 'string' },
    data: { type: 'string' },
    every: { type: 'string', default: '7' },
  },
});
if (!asked.url || !asked.token || !asked.data) {
  console.error('Say --url, --token and --data.');
  process.exit(2);
}
const api = apiOf({ url: asked.url, token: asked.token });

interface Prediction {
  known: boolean;
  message?: string;
  lab?: { l: number; a: number; b: number };
  deltaE90?: number;
  familiarity?: string;
}

const labOf = (spectrum: Parameters<typeof labFromSpectrum>[0]['spectrum']) =>
  labFromSpectrum({ spectrum, conditions: { illuminant: 'D65', observerDeg: 10 } });
const set = readMixtures(asked.data, labOf);
const pairOf = (s: MeasuredSample) => s.components.map((c) => c.dyeId).join('+');
const pairs = [...new Set(set.mixtures.map(pairOf))];
const unseenPairs = new Set([5, 23, 41].map((i) => pairs[i % pairs.length] as string));
const isUnseenPair = (s: MeasuredSample) => unseenPairs.has(pairOf(s));
const keptBack = set.mixtures.filter((s, i) => isUnseenPair(s) || i % Number(asked.every) === 0);
const shown = set.mixtures.filter((s) => !keptBack.includes(s));

const run = Date.now().toString(36);
const codes = new Map<string, string>();
for (const dyeId of new Set(set.singles.map((s) => s.components[0]?.dyeId as string))) {
  const code = `${dyeId}-${run}`.slice(0, 12);
  codes.set(dyeId, code);
  await api('/dyes', { code, name: `measured ${code}`, class: 'direct' });
}
const ppm = (depthPct: number) => Math.round(depthPct * 10_000);

const difference = differenceCiede2000();
const far = (p: { l: number; a: number; b: number }, s: MeasuredSample) =>
  difference({ mode: 'lab65', l: p.l, a: p.a, b: p.b }, { mode: 'lab65', l: s.lab.L, a: s.lab.a, b: s.lab.b });

async function library(name: string, samples: readonly MeasuredSample[], withSpectra: boolean, measured: MeasuredSet) {
  const goods = `measured ${name} ${run}`;
  const began = performance.now();
  const { swatches } = await api<{ swatches: { swatchId: number }[] }>('/imports/swatches', {
    name: goods,
    createMissing: true,
    newFibreClass: 'cellulose',
    swatches: [{ id: 'undyed', components: [], ...measured.substrate }, ...samples].map((s) => ({
      name: s.id,
      fibre: goods,
      method: goods,
      components: s.components.map((c) => ({ dyeCode: codes.get(String(c.dyeId)), depthPpm: ppm(c.depthPct) })),
      lab: { l: s.lab.L, a: s.lab.a, b: s.lab.b, illuminant: 'D65', observer: '10' },
      spectrum: withSpectra ? s.spectrum : null,
    })),
  });
  const imported = performance.now() - began;
  const first = await api<{ fibreId: number; methodId: number }>(`/swatches/${swatches[0]?.swatchId}`);
  return { ...first, imported };
}

console.log(
  `${keptBack.length} mixtures kept back, ${keptBack.filter(isUnseenPair).length} of them in pairs never shown`,
);
console.log(
  'library                     known  asked  no idea  median    p90  worst  in ±90  pairs unseen: median   p90  in ±90   import s  learn+answer s',
);
for (const [what, samples] of [
  ['singles', set.singles],
  ['singles + 50', [...set.singles, ...shown.filter((_, i) => i % Math.ceil(shown.length / 50) === 0)]],
  ['singles + mixtures', [...set.singles, ...shown]],
] as const) {
  for (const withSpectra of [true, false]) {
    const goods = await library(`${what} ${withSpectra ? 'spectra' : 'Lab'}`, samples, withSpectra, set);
    const began = performance.now();
    const answers = await api<Prediction[]>(
      '/predict',
      keptBack.map((s) => ({
        fibreId: goods.fibreId,
        methodId: goods.methodId,
        components: s.components.map((c) => ({ dyeCode: codes.get(String(c.dyeId)), depthPpm: ppm(c.depthPct) })),
        illuminant: 'D65',
        observer: '10',
      })),
    );
    const seconds = (performance.now() - began) / 1000;
    const scored = answers.flatMap((p, i) => {
      const sample = keptBack[i] as MeasuredSample;
      return p.lab ? [{ miss: far(p.lab, sample), within: p.deltaE90 ?? 0, unseen: isUnseenPair(sample) }] : [];
    });
    const tell = (rows: typeof scored) => {
      const misses = rows.map((r) => r.miss);
      const held = rows.filter((r) => r.miss <= r.within).length / rows.length;
      return { median: quantile(misses, 0.5), p90: quantile(misses, 0.9), worst: Math.max(...misses), held };
    };
    const all = tell(scored);
    const unseen = tell(scored.filter((r) => r.unseen));
    console.log(
      [
        `${what}, ${withSpectra ? 'spectra' : 'CIELAB'}`.padEnd(27),
        String(samples.length).padStart(5),
        String(keptBack.length).padStart(6),
        String(keptBack.length - scored.length).padStart(8),
        all.median.toFixed(2).padStart(7),
        all.p90.toFixed(2).padStart(6),
        all.worst.toFixed(1).padStart(6),
        `${Math.round(all.held * 100)} %`.padStart(7),
        unseen.median.toFixed(2).padStart(21),
        unseen.p90.toFixed(2).padStart(5),
        `${Math.round(unseen.held * 100)} %`.padStart(7),
        (goods.imported / 1000).toFixed(1).padStart(10),
        seconds.toFixed(1).padStart(15),
      ].join(' '),
    );
  }
}
