import { expect, test } from 'vitest';
import { listLots } from '../../server/lots/queries.ts';
import { openStockLots } from '../../server/stock/queries.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';

/** What is typed, and how a page shows it again. */
const TYPED = {
  nonsense: { typed: '12 stone of <i>fog</i> & “soot”', shown: '12 stone of &lt;i&gt;fog&lt;/i&gt; &amp; “soot”' },
  // 2^53 + 1, the first whole number that a computer’s own kind of number cannot hold.
  hugeNumber: { typed: '9007199254740993', shown: '9007199254740993' },
} as const;

interface Field {
  name: string;
  value: string;
  typed: boolean;
}

const attribute = (tag: string, name: string): string | undefined => new RegExp(`\\s${name}="([^"]*)"`).exec(tag)?.[1];

/** The post forms of a page with their fields as a browser would send them, text fields filled with the same words. */
function formsOf(html: string, words: string): { action: string; multipart: boolean; fields: Field[] }[] {
  return [...html.matchAll(/<form\b([^>]*method="post"[^>]*)>([\s\S]*?)<\/form>/g)].map(([, head = '', body = '']) => {
    const fields: Field[] = [];
    for (const [tag, kind] of body.matchAll(/<(input|textarea|select)\b[^>]*>/g)) {
      const name = attribute(tag, 'name');
      if (!name) continue;
      const type = attribute(tag, 'type') ?? 'text';
      if (kind === 'select') {
        const inside = body.slice(body.indexOf(tag) + tag.length).split('</select>')[0] ?? '';
        const chosen = /<option value="([^"]*)"\s+selected/.exec(inside) ?? /<option value="([^"]*)"/.exec(inside);
        fields.push({ name, value: chosen?.[1] ?? '', typed: false });
      } else if (type === 'hidden') fields.push({ name, value: attribute(tag, 'value') ?? '', typed: false });
      else if (type === 'checkbox' || type === 'radio') {
        if (/\schecked/.test(tag)) fields.push({ name, value: attribute(tag, 'value') ?? 'on', typed: false });
      } else if (type !== 'file') fields.push({ name, value: words, typed: type !== 'password' });
    }
    return {
      action: (attribute(head, 'action') ?? '').replaceAll('&amp;', '&'),
      multipart: head.includes('multipart'),
      fields,
    };
  });
}

test.each(Object.entries(TYPED))(
  '%s in every field of every form: a message, what was typed still there, nothing half-saved, never a fault of ours',
  {
    timeout: 600_000,
  },
  async (kind, { typed, shown: isShown }) => {
    const { page, deps } = await freshSampleStudio();
    const lot = (status: 'planned' | 'onBench' | 'finished'): number =>
      listLots(deps.db, { status, words: '', before: null, limit: 1 })[0]?.id ?? 0;
    const jar = openStockLots(deps.db, { kind: 'dye' }).find(
      (s) => s.concPpm === null && s.onHandQuantity > 0 && s.recalledAt === null,
    )?.id;
    const paths = [
      '/fibres/new',
      '/fibres/1',
      '/dyes/new',
      '/dyes/1',
      '/dyes/1/edit',
      '/auxiliaries/new',
      '/auxiliaries/1',
      '/auxiliaries/1/edit',
      '/methods/new',
      '/methods/1/edit',
      '/recipes/new',
      '/recipes/1',
      '/recipes/1/revisions/new',
      '/customers/new',
      '/customers/1/edit',
      '/orders/new',
      '/orders/31',
      '/orders/31/edit',
      '/orders/31/lines/new',
      '/order-lines/40/edit',
      '/swatches/new',
      '/swatches/1',
      '/swatches/1/edit',
      '/stock/new',
      `/stock/${jar}/edit`,
      `/stock/${jar}/solutions/new`,
      `/stock/${jar}/stock-takes/new`,
      `/stock/${jar}/wastes/new`,
      `/stock/${jar}/closing/new`,
      `/stock/${jar}/recall/new`,
      '/lots/new',
      `/lots/${lot('finished')}`,
      `/lots/${lot('finished')}/swatch`,
      `/lots/${lot('onBench')}/bench`,
      `/lots/${lot('onBench')}/outcome`,
      '/settings',
    ];
    const seen = new Set<string>();
    const found: string[] = [];
    let refused = 0;
    for (const path of paths) {
      const shown = await page.get(path);
      expect(shown.status, path).toBe(200);
      for (const form of formsOf(shown.text, typed)) {
        const texts = form.fields.filter((f) => f.typed);
        if (texts.length === 0 || seen.has(`${form.action} ${texts.map((t) => t.name)}`)) continue;
        seen.add(`${form.action} ${texts.map((t) => t.name)}`);
        const changes = (): number => (deps.sqlite.prepare('select total_changes() as n').get() as { n: number }).n;
        const before = changes();
        const values = Object.fromEntries(form.fields.map((f) => [f.name, f.value]));
        let request = form.multipart ? page.send('post', form.action) : page.post(form.action, values);
        if (form.multipart) for (const [name, value] of Object.entries(values)) request = request.field(name, value);
        const answer = await request;
        const where = `${path} → ${form.action}`;
        if (answer.status >= 500) found.push(`${where} answered ${answer.status}`);
        if (answer.status >= 400 && answer.status < 500) {
          refused += 1;
          if (changes() !== before) found.push(`${where} was refused and changed ${changes() - before} rows`);
          if (!/field-error|role="alert"/.test(answer.text))
            found.push(`${where} was refused without a message beside a field`);
          if (!answer.text.includes(isShown)) found.push(`${where} lost what was typed (${texts.map((t) => t.name)})`);
          if (kind === 'nonsense' && answer.text.includes(typed)) found.push(`${where} shows what was typed as markup`);
        }
      }
    }
    expect(found).toEqual([]);
    // A number is a name too, where a name is asked for.
    expect(refused).toBeGreaterThan(kind === 'nonsense' ? 25 : 15);
  },
);
