import type { DyeClass } from '../calc/classFit.ts';

/** The usual cautions of a class, shown where the act happens. They defer to the safety data sheet and state no limit of
 *  their own. Sources: UK HSE, Dyes and dyeing; NIOSH Hazard Controls HC13, DHHS 97-107, 1997; NSEAD, H&S dyes. */
const POWDER =
  'Weigh powder in still air with a fitted respirator, gloves and sleeves; move it slowly and over short distances. The safety data sheet of the product in hand decides.';

const BY_CLASS: Partial<Record<DyeClass, string>> = {
  reactive:
    'Reactive dye powder can sensitise the lungs, and then tiny doses set off asthma. Anybody with lung trouble keeps away from it; on symptoms, stop and see a doctor.',
  natural:
    'Mordants are metal salts: keep to alum and iron, keep them off skin and soil, and collect the baths as local rules say.',
  metalComplex: 'These dyes hold metal: collect the exhausted bath and ask the authority before it goes to the drain.',
  vat: 'Reducing agents and lye: add slowly, always to cold water, never the reverse; goggles, apron, eyewash at hand.',
  basic: 'Basic dyes stain skin and lungs deeply; dissolve them without raising dust.',
};

/** Cautions of a lot, each once: by dye class, by what the auxiliaries' hazard text says, by heat, and always utensils. */
export function lotCautions(input: {
  dyeClasses: readonly DyeClass[];
  weighsPowder: boolean;
  auxiliaries: readonly { name: string; hazardCodes: string }[];
  hottestC: number | null;
  methodCautions: string;
}): string[] {
  const list: string[] = [];
  if (input.weighsPowder) list.push(POWDER);
  for (const dyeClass of new Set(input.dyeClasses)) {
    const words = BY_CLASS[dyeClass];
    if (words) list.push(words);
  }
  for (const { name, hazardCodes } of input.auxiliaries) {
    if (hazardCodes.trim() !== '') list.push(`${name}: ${hazardCodes} on its safety data sheet. Gloves and goggles.`);
  }
  if (input.hottestC !== null && input.hottestC >= 60)
    list.push('Hot liquor and steam burn: mitts, long sleeves, lift the lid away from you.');
  for (const line of input.methodCautions.split('\n')) if (line.trim() !== '') list.push(line.trim());
  list.push(
    'Pots, cups and spoons of the dye room never go back to food; no food or drink where you dye. Waste water by local rule.',
  );
  return [...new Set(list)];
}
