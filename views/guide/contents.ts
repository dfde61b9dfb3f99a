import { BOOKS } from './books.ts';
import { FORMULAS } from './formulas.ts';
import { GENERAL } from './general.ts';
import { LIBRARY } from './library.ts';
import { PRODUCTION } from './production.ts';
import type { GuideGroup, GuideSection } from './section.ts';
import { SHELF } from './shelf.ts';
import { STUDIO } from './studio.ts';

/** The guide in the order of its contents page. */
export const GUIDE: readonly GuideGroup[] = [GENERAL, LIBRARY, PRODUCTION, FORMULAS, SHELF, BOOKS, STUDIO];

const SECTIONS: readonly GuideSection[] = GUIDE.flatMap((group) => group.sections);
const BY_SLUG = new Map(SECTIONS.map((section) => [section.slug, section]));
const BY_SCREEN = new Map(SECTIONS.flatMap((section) => section.screens.map((screen) => [screen, section] as const)));
const BY_SENT = new Map(SECTIONS.flatMap((section) => (section.sends ?? []).map((sent) => [sent, section] as const)));

export const sectionBySlug = (slug: string): GuideSection | undefined => BY_SLUG.get(slug);

/** The sections before and after one, in the order of the contents. */
export function neighboursOf(section: GuideSection): { before: GuideSection | null; after: GuideSection | null } {
  const at = SECTIONS.indexOf(section);
  return { before: SECTIONS[at - 1] ?? null, after: SECTIONS[at + 1] ?? null };
}

/** The section for the page that a route answers with. A form that is refused shows its screen at the address it was
 *  sent to, which lies at or below that screen's unless the section says otherwise. */
export function sectionOfRoute(method: string, route: string): GuideSection | undefined {
  for (let path = route; path !== ''; path = path.slice(0, path.lastIndexOf('/'))) {
    const section = (method === 'POST' ? BY_SENT.get(path) : undefined) ?? BY_SCREEN.get(path);
    if (section) return section;
  }
  return undefined;
}

/** Where the guide speaks of the page that a route answers with: its section, or the contents where no route was
 *  found. */
export function guideOf(method: string, route: string | undefined): { href: string; label: string } {
  const section = route === undefined ? undefined : sectionOfRoute(method, route);
  return section
    ? { href: `/guide/${section.slug}`, label: `Guide: ${section.title}` }
    : { href: '/guide', label: 'Guide' };
}
