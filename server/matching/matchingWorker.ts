import { constants, setPriority } from 'node:os';
import { parentPort, workerData } from 'node:worker_threads';
import { CalcError } from '../calc/calcError.ts';
import { proposeCorrections } from '../calc/match/correct.ts';
import { learnModel, modelWith } from '../calc/match/learn.ts';
import { type ColourModel, predictColour } from '../calc/match/predict.ts';
import { proposeRecipes } from '../calc/match/propose.ts';
import { recipesToSample } from '../calc/match/recipesToSample.ts';
import type { MatchingAnswer, MatchingJob, MatchingQuestion, MatchingReply } from './matchingThread.ts';

// Linux gives a thread a priority of its own; elsewhere the whole service would be set back.
if (workerData?.inBackground === true && process.platform === 'linux')
  setPriority(0, constants.priority.PRIORITY_BELOW_NORMAL);

const held = new Map<number, ColourModel>();

function modelOf(modelId: number): ColourModel {
  const model = held.get(modelId);
  if (model === undefined) throw new Error(`the model ${modelId} is not held any more`);
  return model;
}

function answer(question: MatchingQuestion): MatchingAnswer<MatchingQuestion['kind']> {
  switch (question.kind) {
    case 'learn':
      return { model: learnModel(question) };
    case 'hold':
      held.set(question.modelId, question.model);
      return null;
    case 'drop':
      held.delete(question.modelId);
      return null;
    case 'takeIn': {
      const model = modelWith(modelOf(question.modelId), question.swatches);
      if (model === null) return null;
      held.set(question.asModelId, model);
      const { swatchCount, mixtureCount, spectrumCount, maxTotalDepthPct, dyes } = model;
      return { swatchCount, mixtureCount, spectrumCount, maxTotalDepthPct, dyes };
    }
    case 'predict': {
      const model = modelOf(question.modelId);
      const { under } = question;
      return question.recipes.map((components) =>
        predictColour({ model, components, ...(under === undefined ? {} : { under }) }),
      );
    }
    case 'propose':
      return proposeRecipes({ ...question.input, model: modelOf(question.modelId) });
    case 'correct':
      return proposeCorrections({ ...question.input, model: modelOf(question.modelId) });
    case 'lessons':
      return recipesToSample({ ...question.input, model: modelOf(question.modelId) });
  }
}

parentPort?.on('message', ({ jobId, question }: MatchingJob) => {
  let reply: MatchingReply;
  try {
    reply = { jobId, kind: 'answer', answer: answer(question) };
  } catch (error) {
    reply =
      error instanceof CalcError
        ? { jobId, kind: 'impossible', code: error.code, field: error.field, message: error.message }
        : { jobId, kind: 'failed', message: error instanceof Error ? error.message : String(error) };
  }
  parentPort?.postMessage(reply);
});
