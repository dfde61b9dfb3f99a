/* Recipes for a colour, asked of a running service: 1 000 invented swatches of 20 invented dyes go in by the API, then colours
   are asked for, while somebody else looks at the swatch wall.

   node tests/bench/proposalsByApi.ts --url http://localhost:8420 --token TOKEN [--spectra] [--times 40]

   A token that may record is needed, and a studio that one does not mind filling. */
import { parseArgs } from 'node:util';
import { labFromSpectrum, type Spectrum } from '../../server/calc/colour/spectra.ts';
import { seededRandom } from '../support/syntheticCloth.ts';
import { apiOf, quantile } from './runningService.ts';

const { values: asked } = parseArgs({
  options: {
    url: { type: 'string' },
    token: { type: 'string' },
    spectra: { type: 'boolean', default: false },
    times: { type: 'string', default: '40' },
  },
});
if (!asked.url || !asked.token) {
  console.error('Say --url and --token.');
  process.exit(2);
}
const api = apiOf({ url: asked.url, token: asked.token });

const random = seededRandom(1234);
const between = (low: number, high: number) => low + (high - low) * random();

const run = Date.now().toString(36).slice(-6);
const dyes = Array.from({ length: 20 }, (_, i) => ({
  code: `${i}-${run}`,
  centreNm: 400 + 15 * i,
  widthNm: between(28, 50),
  height: between(2, 5),
}));
for (const { code } of dyes) await api('/dyes', { code, name: `invented ${code}`, class: 'reactive' });

/** One absorption band a dye, additive in K/S over white goods, with 2 % of noise: for the clock alone. */
function spectrumOf(components: readonly { dye: (typeof dyes)[number]; depthPct: number }[]): Spectrum {
  const weighed = components.map((c) => ({ ...c, depthPct: c.depthPct * between(0.98, 1.02) }));
  const reflectance = Array.from({ length: 31 }, (_, i) => {
    const nm = 400 + 10 * i;
    let ks = 0.03;
    for (const { dye, depthPct } of weighed) {
      ks += depthPct * dye.height * Math.exp(-0.5 * ((nm - dye.centreNm) / dye.widthNm) ** 2);
    }
    return 1 + ks - Math.sqrt(ks * ks + 2 * ks);
  });
  return { startNm: 400, stepNm: 10, reflectance };
}
const D65_10 = { illuminant: 'D65', observerDeg: 10 } as const;

const goods = `invented cloth ${run}`;
const began = performance.now();
const { swatches } = await api<{ swatches: { swatchId: number }[] }>('/imports/swatches', {
  name: goods,
  createMissing: true,
  newFibreClass: 'cellulose',
  swatches: Array.from({ length: 1000 }, (_, i) => {
    const chosen = [...dyes].sort(() => random() - 0.5).slice(0, 1 + (i % 3));
    const components = chosen.map((dye) => ({ dye, depthPct: Math.round(between(0.05, 2) * 1000) / 1000 }));
    const spectrum = spectrumOf(components);
    const { L, a, b } = labFromSpectrum({ spectrum, conditions: D65_10 });
    return {
      name: `invented ${i}`,
      fibre: goods,
      method: goods,
      components: components.map((c) => ({ dyeCode: c.dye.code, depthPpm: Math.round(c.depthPct * 10_000) })),
      ...(asked.spectra ? { spectrum } : { lab: { l: L, a, b, illuminant: 'D65', observer: '10' } }),
    };
  }),
});
console.log(`1 000 swatches imported in ${((performance.now() - began) / 1000).toFixed(1)} s`);
const { fibreId, methodId } = await api<{ fibreId: number; methodId: number }>(`/swatches/${swatches[0]?.swatchId}`);

const waits: number[] = [];
let looking = true;
const looker = (async () => {
  while (looking) {
    const start = performance.now();
    await api('/swatches?words=invented');
    waits.push(performance.now() - start);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
})();
const told = (name: string, ms: readonly number[]) =>
  console.log(
    `${name.padEnd(44)} median ${quantile(ms, 0.5).toFixed(0)} ms, p90 ${quantile(ms, 0.9).toFixed(0)}, worst ${Math.max(...ms).toFixed(0)} (${ms.length})`,
  );

const target = () => ({
  l: between(25, 80),
  a: between(-40, 50),
  b: between(-40, 60),
  illuminant: 'D65',
  observer: '10',
});
const first = performance.now();
await api('/proposals', { target: target(), fibreId, methodId });
console.log(`the first question, which learns: ${((performance.now() - first) / 1000).toFixed(1)} s`);
told('the swatch wall, while that went on', waits.splice(0));
for (const maxDyes of [2, 3, 4]) {
  const ms: number[] = [];
  for (let i = 0; i < Number(asked.times); i += 1) {
    const start = performance.now();
    await api('/proposals', { target: target(), fibreId, methodId, maxDyes, count: 5 });
    ms.push(performance.now() - start);
  }
  told(`proposals of up to ${maxDyes} of 20 dyes`, ms);
  told('the swatch wall, while that went on', waits.splice(0));
}
looking = false;
await looker;
