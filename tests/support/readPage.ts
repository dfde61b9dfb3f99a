import { attributeOf, elementsOf, type PageElement, textOf } from './pageTree.ts';

/** What a person sees of a page: its name in the tab and at its head, where the navigation says one is, what stands in its fields,
 *  what is said beside them, and where it leads. */
export interface ReadPage {
  title: string;
  heading: string;
  /** Address of the entry of the navigation that is marked. */
  section: string | null;
  /** What stands in each field; of a choice and a tick what is chosen. */
  typed: Record<string, string>;
  /** Options of each select as 'group: label'. */
  options: Record<string, string[]>;
  /** Messages beside the fields; '' for the form as a whole, where it says something of its own. */
  errors: Record<string, string>;
  links: string[];
}

const tidy = (text: string): string => text.replace(/\s+/g, ' ').trim();
const has = (element: PageElement, name: string): boolean => attributeOf(element, name) !== undefined;

export function readPage(html: string): ReadPage {
  const all = elementsOf(html);
  const first = (tag: string): PageElement | undefined => all.find((e) => e.tagName === tag);
  const within = (parent: PageElement | undefined, tag: string): PageElement[] =>
    all.filter((e) => {
      if (e.tagName !== tag) return false;
      for (let up = e.parentNode; up && 'parentNode' in up; up = up.parentNode) if (up === parent) return true;
      return false;
    });
  const typed: Record<string, string> = {};
  const options: Record<string, string[]> = {};
  for (const e of all) {
    const name = attributeOf(e, 'name');
    if (!name) continue;
    if (e.tagName === 'textarea') typed[name] = textOf(e);
    if (e.tagName === 'select') {
      const own = within(e, 'option');
      typed[name] = attributeOf(own.find((o) => has(o, 'selected')) ?? (own[0] as PageElement), 'value') ?? '';
      options[name] = own.map((o) => {
        const group = o.parentNode && 'attrs' in o.parentNode ? attributeOf(o.parentNode, 'label') : undefined;
        return `${group ? `${group}: ` : ''}${tidy(textOf(o))}`;
      });
    }
    if (e.tagName !== 'input') continue;
    const type = attributeOf(e, 'type');
    if (type === 'radio' || type === 'checkbox') {
      if (has(e, 'checked')) typed[name] = attributeOf(e, 'value') ?? 'on';
    } else typed[name] = attributeOf(e, 'value') ?? '';
  }
  const errors: Record<string, string> = {};
  for (const e of all) {
    if (attributeOf(e, 'class') === 'field-error')
      errors[(attributeOf(e, 'id') ?? '').replace(/^f-(.*)-error$/, '$1')] = tidy(textOf(e));
    if (attributeOf(e, 'role') === 'alert' && !textOf(e).includes('see the marked fields'))
      errors[''] = tidy(textOf(e));
  }
  const nav = all.find((e) => e.tagName === 'nav' && attributeOf(e, 'aria-label') === 'Main');
  const current = within(nav, 'a').find((e) => has(e, 'aria-current'));
  const title = first('title');
  const heading = first('h1');
  return {
    title: title ? textOf(title) : '',
    heading: heading ? tidy(textOf(heading)) : '',
    section: current ? (attributeOf(current, 'href') ?? null) : null,
    typed,
    options,
    errors,
    links: within(first('main'), 'a').map((a) => attributeOf(a, 'href') ?? ''),
  };
}
