import { dyeClassNames, fitWords } from '../calc/classFit.ts';
import { deepShadeWords } from '../recipes/deepShade.ts';
import { pct } from './amountWords.ts';
import { dyesOfPlan } from './dyesOfPlan.ts';
import type { PlanContext } from './planContext.ts';
import type { Plan, PlanInput } from './schemas.ts';
import { shortageWords } from './shortage.ts';

export function warningsOf(plan: Plan, input: PlanInput, context: PlanContext): string[] {
  const list: string[] = [];
  for (const dyeClass of new Set(context.revisions.map((r) => r.recipe.dyeClass))) {
    const words = fitWords({ dyeClass, fibreClass: context.fibre.class });
    if (words) list.push(words);
    if (context.method.dyeClass !== null && context.method.dyeClass !== dyeClass) {
      list.push(
        `The method “${context.method.name}” is for ${dyeClassNames[context.method.dyeClass]} dye, and a recipe here is for ${dyeClassNames[dyeClass]} dye.`,
      );
    }
  }
  for (const revision of context.revisions) {
    for (const { dye } of revision.components) {
      if (dye.class !== revision.recipe.dyeClass)
        list.push(
          `${dye.code} is ${dyeClassNames[dye.class]} dye, and its recipe is for ${dyeClassNames[revision.recipe.dyeClass]} dye.`,
        );
    }
  }
  list.push(...deepShadeWords(dyesOfPlan(input, context)));
  if (plan.bathOverUl > 0)
    list.push(
      `The solutions alone are ${(plan.bathOverUl / 1000).toFixed(1)} mL more than the bath: use stronger stock or a larger bath.`,
    );
  for (const line of plan.lines) {
    if (line.stockLotId === null && line.concPpm === null) list.push(`No container of ${line.name} in stock.`);
    if (line.advice) list.push(`${line.name}: ${line.advice}`);
  }
  list.push(...shortageWords(plan, context));
  const expired = new Set<string>();
  for (const line of plan.lines) {
    const lot = [...context.stockLots.values()].flat().find((s) => s.id === line.stockLotId);
    if (lot?.bestBeforeOn && lot.bestBeforeOn < context.todayOn && !expired.has(lot.code)) {
      expired.add(lot.code);
      list.push(`Container ${lot.code} (${lot.itemName}) is past its best-before day.`);
    }
  }
  if (input.coverage === 'eachOverItsShare') {
    const shares = plan.colours.reduce((sum, c) => sum + c.sharePpm, 0);
    if (shares < 999_500) list.push(`The shares add to ${pct(shares)}: the rest of the cloth stays undyed.`);
  }
  return list;
}
