import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { GUIDE, neighboursOf, sectionBySlug } from '../../../views/guide/contents.ts';
import { guideContents, guideSection } from '../../../views/guide/guide.ts';
import { Refusal } from '../../errors.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';

/* The guide is for everybody who is signed in. It tells nothing of the studio’s own. */

/** The script of the section for scripts, which the tests run as it stands. */
const SCRIPT = { slug: 'scripts', href: '/static/guide/wholeWay.sh' } as const;

export const showContents = page({
  show: (_deps, { request, reply }) =>
    sendPage(request, reply, { title: 'Guide', section: 'guide', body: guideContents({ groups: GUIDE }) }),
});

export const showSection = page({
  params: z.object({ section: z.string() }),
  show: ({ config }, { params, request, reply }) => {
    const section = sectionBySlug(params.section);
    if (!section) throw new Refusal('notFound', 'The guide has no such section.');
    return sendPage(request, reply, {
      title: `Guide: ${section.title}`,
      section: 'guide',
      body: guideSection({
        section,
        ...neighboursOf(section),
        also: (section.also ?? []).flatMap((slug) => sectionBySlug(slug) ?? []),
        script:
          section.slug === SCRIPT.slug
            ? { href: SCRIPT.href, text: readFileSync(join(config.packageRoot, SCRIPT.href), 'utf8') }
            : null,
      }),
    });
  },
});
