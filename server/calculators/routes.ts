import type { App } from '../app.ts';
import { calcTopics, isCalcTopic } from '../calc/topics.ts';
import { notFound } from '../errors.ts';
import { CalcAnswer, CalcBody, CalcParams, CalcTopicList } from './schemas.ts';

/** Stateless calculators for scripts. They read nothing of the studio's and change nothing, so that anyone may use them and a token
 *  that may only read is enough to POST with. */
export function api(app: App): void {
  const tags = ['Calculators'];

  app.get(
    '/calc',
    {
      config: { may: 'anyone' },
      schema: { tags, summary: 'Every calculation and its inputs', response: { 200: CalcTopicList } },
    },
    async () => ({
      topics: Object.entries(calcTopics).map(([topic, { summary, unit, inputs }]) => ({
        topic,
        summary,
        unit,
        inputs,
      })),
    }),
  );

  app.post(
    '/calc/:topic',
    {
      config: { may: 'anyone' },
      schema: { tags, summary: 'One calculation', params: CalcParams, body: CalcBody, response: { 200: CalcAnswer } },
    },
    async (request) => {
      const { topic } = request.params;
      if (!isCalcTopic(topic)) throw notFound('calculation');
      return { topic, ...calcTopics[topic].run(request.body) };
    },
  );
}
