import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { GUIDE, neighboursOf, sectionBySlug } from '../../views/guide/contents.ts';
import { guideContents, guideSection } from '../../views/guide/guidePages.ts';
import type { Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import type { App } from '../http/app.ts';
import { sendPage } from '../http/page.ts';

/** The script of the section for scripts, which the tests run as it stands. */
const SCRIPT = { slug: 'scripts', href: '/static/guide/wholeWay.sh' } as const;

/** The guide is for everybody who is signed in. It tells nothing of the studio’s own. */
export function pages(app: App, deps: Deps): void {
  const scriptText = readFileSync(join(deps.config.packageRoot, SCRIPT.href), 'utf8');

  app.get('/guide', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, { title: 'Guide', section: 'guide', body: guideContents({ groups: GUIDE }) }),
  );

  app.get(
    '/guide/:section',
    { config: { may: 'look' }, schema: { params: z.object({ section: z.string() }) } },
    async (request, reply) => {
      const section = sectionBySlug(request.params.section);
      if (!section) throw new Refusal('notFound', 'The guide has no such section.');
      return sendPage(request, reply, {
        title: `Guide: ${section.title}`,
        section: 'guide',
        body: guideSection({
          section,
          ...neighboursOf(section),
          also: (section.also ?? []).flatMap((slug) => sectionBySlug(slug) ?? []),
          script: section.slug === SCRIPT.slug ? { href: SCRIPT.href, text: scriptText } : null,
        }),
      });
    },
  );
}
