import { CalcError, finiteIn } from '../calcError.ts';
import { type CardDefinition, isGrey } from './cardDefinitions.ts';
import {
  type CardCorners,
  type CardFinding,
  type CardNotFoundReason,
  type CardTurn,
  cardMisfit,
  findCard,
  GOOD_MISFIT,
  MIN_PATCHES_TO_FIND,
  settledCorners,
  turnOf,
} from './cardFinding.ts';
import { type CameraModel, type ColourFit, type FitPatch, fitCard, uncorrectedLab } from './colourFit.ts';
import { deltaE2000 } from './deltaE.ts';
import { inverseHomography, mapPoint, turnOfCorners } from './homography.ts';
import { cardToImage, type PatchSample, positionOnCard, samplePatches, sampleQuad } from './patchSampling.ts';
import { demandImage, type PixelImage, type Point } from './pixelImage.ts';
import { type Conditions, D50_2, D65_2, type Lab } from './reading.ts';
import { type ColourCluster, type PhotoCalibration, type Region, type RegionReading, readRegion } from './regions.ts';
import { adaptLab } from './spaces.ts';

export type PhotoWarning =
  /** White or bright patches ran over: take the photo a little darker. */
  | { code: 'clipped'; patches: string[] }
  /** A shine or a shadow's edge on these patches. */
  | { code: 'glare'; patches: string[] }
  /** These patches contradict the others: dirt, shade, a finger, or not this card. */
  | { code: 'oddPatches'; patches: string[] }
  /** Light changes over the card by so much from edge to edge. */
  | { code: 'unevenLight'; changePct: number }
  /** The light or the camera's white is far from neutral: `chroma` of a grey before correction. */
  | { code: 'wrongWhite'; chroma: number }
  | { code: 'tooDark'; lightestPct: number }
  /** The card lies turned by so much; it was read as it lies. */
  | { code: 'cardTurned'; turnedDeg: CardTurn }
  /** The corners were given in another order than the card's; the colours tell which is which. */
  | { code: 'cornersReordered' }
  /** The given corners did not lie on the middles of the corner patches; the card was found close by and read there. */
  | { code: 'cornersMoved' }
  /** The card's colours do not follow from this photo: another kind of card, wrong corners, or mixed light. */
  | { code: 'poorFit'; heldOutMedian: number }
  /** A plain grey card only takes off cast and exposure; what the camera does to colours stays. */
  | { code: 'greyOnly' }
  /** Goods outside the colours of the card: read beyond what the card can tell. */
  | { code: 'beyondCard'; regions: number[] }
  | { code: 'goodsClipped'; regions: number[] };

export interface ReadRegion extends RegionReading {
  /** The same colour adapted to D65/2° by Bradford: an estimate, the spectrum of the dye is not known. */
  labD65: Lab;
}

export interface ReadPatch {
  name: string;
  known: Lab;
  /** Taken as plain sRGB, before any correction. */
  uncorrected: Lab;
  /** CIEDE2000 when read by a fit that did not see this patch; null on cards too small for that. */
  heldOutDeltaE: number | null;
  sd8: number;
  clippedHighPct: number;
}

export type CardReading =
  | {
      outcome: 'read';
      cardId: string;
      conditions: Conditions;
      corners: CardCorners;
      cornersFrom: 'found' | 'given';
      /** Confidence of the finding, 0–1; null where the given corners were used. */
      confidence: number | null;
      turnedDeg: CardTurn;
      models: readonly CameraModel[];
      patches: ReadPatch[];
      /** CIEDE2000 of held-out patches; null on cards too small for that. */
      heldOutMedian: number | null;
      heldOutP90: number | null;
      uncorrectedMedian: number;
      warnings: PhotoWarning[];
      regions: ReadRegion[];
    }
  | { outcome: 'cornersNeeded'; cardId: string; reason: CardNotFoundReason | 'lowConfidence' };

/** Under this the finding is not acted on: the person is asked. */
const LEAST_CONFIDENCE = 0.35;
/** Given corners on a card give some 4–9 (see GOOD_MISFIT); beyond this it is looked whether the card lies beside them. */
const DOUBTFUL_MISFIT = 9;
const CLEARLY_BETTER = 0.8;
const CLOSE_BY_STEPS = 1.6;
const CLIPPED_SHARE = 0.05;
const GLARE_SD8 = 6;
const GLARE_RATIO = 3;
const UNEVEN_PCT = 15;
const CAST_CHROMA = 12;
const DARK_PCT = 20;
const POOR_FIT = 5;
const BEYOND_PLUS_MINUS = 9;

/** Reads colours of goods from a photo that also holds a reference card.
 *  corners: 'find', or the centres of the card's four corner patches in the order upper left, upper right, lower right, lower
 *  left of the card as its maker draws it (for a plain card: the corners of its even area). Throws CalcError on impossible
 *  corners or regions; a card that is not found is an outcome, not an error. A rule of our own over colourFit.ts. */
export function readCard(input: {
  image: PixelImage;
  card: CardDefinition;
  corners: 'find' | CardCorners;
  regions: readonly Region[];
}): CardReading {
  const { image, card, regions } = input;
  demandImage(image);
  let corners: CardCorners;
  let confidence: number | null = null;
  const warnings: PhotoWarning[] = [];
  if (input.corners === 'find') {
    const finding: CardFinding = findCard({ image, card });
    if (!finding.found) return { outcome: 'cornersNeeded', cardId: card.id, reason: finding.reason };
    if (finding.confidence < LEAST_CONFIDENCE) {
      return { outcome: 'cornersNeeded', cardId: card.id, reason: 'lowConfidence' };
    }
    corners = finding.corners;
    confidence = finding.confidence;
  } else {
    const given = orderedCorners(image, card, input.corners);
    corners = given.corners;
    confidence = given.confidence;
    if (given.reordered) warnings.push({ code: 'cornersReordered' });
    if (confidence !== null) warnings.push({ code: 'cornersMoved' });
  }
  const turnedDeg = turnOf(corners);
  if (turnedDeg !== 0) warnings.push({ code: 'cardTurned', turnedDeg });

  const plain = card.columns < 2 || card.rows < 2;
  if (plain && card.patches.length > 1) {
    throw new CalcError('outOfRange', 'card', 'a card of one row cannot be placed by four corners');
  }
  const samples = plain ? [sampleQuad(image, corners)] : samplePatches({ image, card, corners });
  if (samples.some((s) => s === undefined)) {
    throw new CalcError('outOfRange', 'corners', 'part of the card lies outside the photo');
  }
  const seen = samples as PatchSample[];
  const usualSd = median(seen.map((s) => s.sd8));
  const shiny = (s: PatchSample): boolean => s.sd8 > Math.max(GLARE_SD8, GLARE_RATIO * usualSd);
  const fitPatches = seen.map((sample, i): FitPatch => fitPatchOf(card.patches[i]!.lab, sample, shiny(sample)));
  const fit = fitCard(fitPatches);

  const uncorrected = fitPatches.map((p) => uncorrectedLab(p.linear));
  warnings.push(...cardWarnings({ card, seen, shiny, fit, odd: fit.odd, uncorrected, plain }));

  const back = inverseHomography(cardToImage(card, corners));
  const calibration: PhotoCalibration = {
    image,
    fit,
    place: plain
      ? () => ({ u: 0, v: 0 })
      : (p: Point) => {
          const on = mapPoint(back, p.x, p.y);
          return positionOnCard(card, clampTo(on.x, card.columns), clampTo(on.y, card.rows));
        },
  };
  // A sheet of samples is many small even pieces: fewer places each, or 66 of them would take half a minute.
  const places = Math.round(Math.min(3000, Math.max(300, 30_000 / Math.max(1, regions.length))));
  const read = regions.map((region): ReadRegion => {
    const reading = readRegion(calibration, region, places);
    return { ...reading, labD65: adaptLab({ lab: reading.lab, from: D50_2, to: D65_2, method: 'bradford' }) };
  });
  const numbered = (test: (r: ReadRegion) => boolean): number[] => read.flatMap((r, i) => (test(r) ? [i] : []));
  const beyond = plain ? [] : numbered((r) => r.plusMinus > BEYOND_PLUS_MINUS);
  if (beyond.length > 0) warnings.push({ code: 'beyondCard', regions: beyond });
  const over = numbered((r) => r.clippedPct > 100 * CLIPPED_SHARE);
  if (over.length > 0) warnings.push({ code: 'goodsClipped', regions: over });

  const heldOut = [...fit.heldOut].sort((p, q) => p - q);
  return {
    outcome: 'read',
    cardId: card.id,
    conditions: D50_2,
    corners,
    cornersFrom: confidence === null ? 'given' : 'found',
    confidence,
    turnedDeg,
    models: fit.models,
    patches: seen.map((sample, i) => ({
      name: card.patches[i]!.name,
      known: card.patches[i]!.lab,
      uncorrected: uncorrected[i]!,
      heldOutDeltaE: fit.heldOut[i] ?? null,
      sd8: sample.sd8,
      clippedHighPct: 100 * sample.clippedHighShare,
    })),
    heldOutMedian: heldOut.length === 0 ? null : median(heldOut),
    heldOutP90:
      heldOut.length === 0 ? null : heldOut[Math.min(heldOut.length - 1, Math.ceil(0.9 * heldOut.length) - 1)]!,
    uncorrectedMedian: median(uncorrected.map((lab, i) => deltaE2000({ standard: card.patches[i]!.lab, sample: lab }))),
    warnings,
    regions: read,
  };
}

/** A patch that ran over, or is unevenly lit, still says something, only less. A rule of our own. */
export function fitPatchOf(lab: Lab, sample: PatchSample, shiny: boolean): FitPatch {
  return {
    lab,
    linear: sample.linear,
    u: sample.u,
    v: sample.v,
    extraNoise: 4 * Math.max(sample.clippedHighShare, sample.clippedLowShare) + (shiny ? sample.sd8 / 3 : 0),
  };
}

/* Near the horizon of a strongly slanted card places run to infinity; beyond some card widths "far off" is all there is to say. */
const clampTo = (x: number, n: number): number => (Number.isFinite(x) ? Math.max(-3 * n, Math.min(4 * n, x)) : 4 * n);

/** The card's own order of the given corners, by the colours; a finger's aim is settled on the patches' edges. `confidence` is
 *  told where the card was found close by instead. */
function orderedCorners(
  image: PixelImage,
  card: CardDefinition,
  given: CardCorners,
): { corners: CardCorners; reordered: boolean; confidence: number | null } {
  given.forEach((p, i) => {
    finiteIn(`corners.${i + 1}.x`, p.x, { min: 0, max: image.width - 1 });
    finiteIn(`corners.${i + 1}.y`, p.y, { min: 0, max: image.height - 1 });
  });
  const way = turnOfCorners(given);
  if (way === 'crossed') {
    throw new CalcError('outOfRange', 'corners', 'the four corners must go round the card without crossing');
  }
  const [a, b, c, d] = given;
  const round: CardCorners = way === 'clockwise' ? given : [a, d, c, b];
  let best = { corners: round, misfit: Number.POSITIVE_INFINITY, turn: 0 };
  if (card.patches.length >= MIN_PATCHES_TO_FIND && card.columns > 1 && card.rows > 1) {
    for (let turn = 0; turn < 4; turn++) {
      const corners = [0, 1, 2, 3].map((i) => round[(i + turn) % 4]!) as unknown as CardCorners;
      const misfit = cardMisfit({ image, card, corners });
      // As given unless another order is clearly better.
      if (misfit !== undefined && misfit < (turn === 0 ? best.misfit : 0.8 * best.misfit))
        best = { corners, misfit, turn };
    }
    if (best.misfit < GOOD_MISFIT) {
      const settled = settledCorners({ image, card, corners: best.corners });
      const after = cardMisfit({ image, card, corners: settled });
      if (after !== undefined && after <= 1.1 * best.misfit && stayed(best.corners, settled, card)) {
        best = { ...best, corners: settled, misfit: after };
      }
    }
    if (best.misfit > DOUBTFUL_MISFIT) {
      const found = foundCloseBy(image, card, best);
      if (found !== undefined) return { ...found, reordered: false };
    }
  }
  return { corners: best.corners, reordered: best.turn !== 0 || way !== 'clockwise', confidence: null };
}

/** Corners of the card itself, or of its patches, are easily taken for the middles of its corner patches: the card that lies
 *  there is read, if it is found and fits clearly better than what was given. */
function foundCloseBy(
  image: PixelImage,
  card: CardDefinition,
  given: { corners: CardCorners; misfit: number },
): { corners: CardCorners; confidence: number } | undefined {
  const finding = findCard({ image, card });
  if (!finding.found || finding.confidence < LEAST_CONFIDENCE) return undefined;
  if (finding.colourMisfit > CLEARLY_BETTER * given.misfit) return undefined;
  const { corners, confidence } = finding;
  const reach = CLOSE_BY_STEPS * Math.hypot(corners[1].x - corners[0].x, corners[1].y - corners[0].y);
  const isNear = corners.every((p) =>
    given.corners.some((q) => Math.hypot(p.x - q.x, p.y - q.y) < reach / (card.columns - 1)),
  );
  return isNear ? { corners, confidence } : undefined;
}

/** A step of the card is the most that a finger may be off before "settling" means another patch. */
function stayed(before: CardCorners, after: CardCorners, card: CardDefinition): boolean {
  const step = Math.min(
    Math.hypot(before[1].x - before[0].x, before[1].y - before[0].y) / (card.columns - 1),
    Math.hypot(before[3].x - before[0].x, before[3].y - before[0].y) / (card.rows - 1),
  );
  return before.every((p, i) => Math.hypot(p.x - after[i]!.x, p.y - after[i]!.y) < 0.35 * step);
}

function cardWarnings(input: {
  card: CardDefinition;
  seen: readonly PatchSample[];
  shiny: (s: PatchSample) => boolean;
  fit: ColourFit;
  odd: readonly number[];
  uncorrected: readonly Lab[];
  plain: boolean;
}): PhotoWarning[] {
  const { card, seen, shiny, fit, odd, uncorrected, plain } = input;
  const out: PhotoWarning[] = [];
  const names = (test: (s: PatchSample, i: number) => boolean): string[] =>
    seen.flatMap((s, i) => (test(s, i) ? [card.patches[i]!.name] : []));
  const clipped = names((s) => s.clippedHighShare > CLIPPED_SHARE);
  if (clipped.length > 0) out.push({ code: 'clipped', patches: clipped });
  const glare = names(shiny);
  if (glare.length > 0) out.push({ code: 'glare', patches: glare });
  const strange = names((_, i) => odd.includes(i));
  if (strange.length > 0) out.push({ code: 'oddPatches', patches: strange });
  const changePct = lightChangePct(fit);
  if (changePct > UNEVEN_PCT) out.push({ code: 'unevenLight', changePct });
  const casts = uncorrected.flatMap((lab, i) =>
    isGrey(card.patches[i]!.lab) && lab.L > 25 && lab.L < 99 ? [Math.hypot(lab.a, lab.b)] : [],
  );
  if (casts.length > 0 && median(casts) > CAST_CHROMA) out.push({ code: 'wrongWhite', chroma: median(casts) });
  const lightest = card.patches.reduce((best, p, i) => (p.lab.L > card.patches[best]!.lab.L ? i : best), 0);
  const lightestPct = (100 * Math.max(...seen[lightest]!.linear)) / (luminance(card.patches[lightest]!.lab.L) || 1);
  if (lightestPct < DARK_PCT) out.push({ code: 'tooDark', lightestPct });
  const heldOutMedian = fit.heldOut.length === 0 ? 0 : median(fit.heldOut);
  if (heldOutMedian > POOR_FIT) out.push({ code: 'poorFit', heldOutMedian });
  if (plain) out.push({ code: 'greyOnly' });
  return out;
}

/** Luminance factor 0–1 of a lightness (CIE 015:2018, 8.2.1, upper branch; good enough for a warning). */
const luminance = (L: number): number => ((L + 16) / 116) ** 3;

/** Change of the light from one edge of the card to the other along the steepest way, in per cent. One unit of lightness
 *  near L* 60 is about 4 % of light. */
function lightChangePct(fit: ColourFit): number {
  return 4 * 2 * Math.hypot(fit.lightPlane.u, fit.lightPlane.v);
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((p, q) => p - q);
  const mid = sorted.length / 2;
  return sorted.length % 2 === 1 ? sorted[Math.floor(mid)]! : (sorted[mid - 1]! + sorted[mid]!) / 2;
}

export type { ColourCluster, Region, RegionReading };
