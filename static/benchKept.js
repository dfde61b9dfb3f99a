// What the bench looks like with the entries that wait on this device: worked into what the server's last page carries, and drawn
// by the server's own views, which run here too. When an entry is sent, the server's page is the one that is shown.
import { finishedMeanwhile, keypad, notKept, readingDoubt } from './shared/views/bench/byScript.js';
import { HELD, KEPT } from './shared/views/bench/keptMark.js';
import { questionsPanel } from './shared/views/bench/questions.js';
import { countdown, stepsPanel } from './shared/views/bench/steps.js';
import { entryInLog, unsentRest, unsentState } from './shared/views/bench/unsent.js';
import { currentLine, readingAsked, withTapped, withWaiting } from './shared/views/bench/waiting.js';
import { goodsNow } from './shared/views/bench/waysOut.js';
import { asked, weighPanel } from './shared/views/bench/weigh.js';

export { asked, countdown, finishedMeanwhile, keypad, notKept, readingAsked, readingDoubt, unsentRest, unsentState };

export const fragmentOf = (html) => {
  const holder = document.createElement('template');
  holder.innerHTML = String(html);
  return holder.content;
};

const pathOf = (url) => new URL(url, location.origin).pathname.split('/').slice(3);

/** An entry in words, for the list of what is not sent and for the log. */
export const wordsOfEntry = (form, submitter, data, containerCode) => {
  const label = form.dataset.words ?? submitter?.textContent.trim() ?? 'An entry';
  const get = (name) => String(data.get(name) ?? '').trim();
  /** With the unit beside its field, where none was typed. */
  const measured = (name) => {
    const unit = form.querySelector('.unit')?.textContent;
    return /[a-zµ°]/i.test(get(name)) || !unit ? get(name) : `${get(name)} ${unit}`;
  };
  const [kind, , act] = pathOf(form.action);
  switch (kind) {
    case 'weighings':
      return `${label}: ${measured('amount')} from ${containerCode ?? 'its container'}`;
    case 'questions':
      return `${label}: ${get('answer') === 'undone' ? 'undone' : 'left as it is'}`;
    case 'steps':
      if (get('next')) return `Ended ${label}, began ${submitter?.dataset.next ?? 'the next step'}`;
      return `${get('kind') === 'stepStart' ? 'Began' : 'Ended'} ${label}`;
    case 'voices':
      return 'Voice note';
    case 'photos':
      return get('text') ? `Photo: ${get('text')}` : 'Photo';
    case 'log':
      if (act === 'voiding') return `${label} (${get('reason')})`;
      if (get('kind') === 'deviation') return `Otherwise than planned: ${get('text')}`;
      if (get('kind') === 'temperature') return `Temperature ${measured('temp')}`;
      return get('kind') === 'field' ? `${get('label')}: ${get('text')}` : get('text');
    default:
      return label;
  }
};

/** Addresses of files that wait, made once each. */
const addresses = new Map();
/** Gives back those of entries that are gone. */
const forgetFiles = (queue) => {
  for (const [clientId, address] of addresses) {
    if (queue.some((e) => e.clientId === clientId)) continue;
    URL.revokeObjectURL(address);
    addresses.delete(clientId);
  }
};
const fileOf = ({ clientId, fields }) => {
  const file = fields.find(([, value]) => value instanceof Blob)?.[1];
  if (!file) return null;
  if (!addresses.has(clientId)) addresses.set(clientId, URL.createObjectURL(file));
  return { address: addresses.get(clientId), name: file.name, isPicture: file.type.startsWith('image/') };
};

const NOT_TYPED = new Set([
  'order',
  'clientId',
  'componentId',
  'stockLotId',
  'stepId',
  'kind',
  'label',
  'stage',
  'vessel',
  'measure',
  'confirmed',
]);
const asKept = ({ fields, words }) => {
  const typed = fields
    .filter(([name, value]) => !NOT_TYPED.has(name) && !(value instanceof Blob) && String(value).trim() !== '')
    .map(([, value]) => `“${value}”`);
  if (fields.some(([, value]) => value instanceof Blob)) typed.push('with its picture');
  return typed.join(', ') || words;
};

/** An entry of the outbox, as the views show it. */
export const shownEntry = (entry) => ({
  ...entry,
  path: pathOf(entry.url),
  fields: Object.fromEntries(entry.fields.filter(([, value]) => !(value instanceof Blob))),
  held: entry.held === true,
  mark: entry.held ? HELD : KEPT,
  refused: entry.state === 'refused' ? entry.refusal.words : null,
  asKept: asKept(entry),
  file: fileOf(entry),
});

/** The server's bench with what waits worked in, and what it was drawn from. `chosen` is the line that is asked for; `stay` the one on
 *  the screen, which stays as long as it wants something; otherwise it is the next. `tapped` is the container that somebody chose;
 *  `newId` gives each form its id. */
export function benchWith({ serverHtml, queue, chosen, stay, tapped, newId }) {
  const bench = fragmentOf(serverHtml).firstElementChild;
  const carried = JSON.parse(bench.dataset.scale);
  forgetFiles(queue);
  for (const entry of queue) {
    bench.querySelector('ol.log')?.prepend(fragmentOf(entryInLog(entry, carried.show)));
    if (entry.path[2] === 'voiding') strike(bench.querySelector(`#entry-${entry.path[1]}`), entry);
  }
  // A copy of the page from before it carried its lines: what waits stands in the log alone.
  if (!carried.lines) return { bench, shown: null };
  const now = withWaiting(carried, queue);
  const currentId = currentLine(now.lines, { chosen, stay });
  const { refused } = now;
  const isRefusedHere = refused?.form !== 'weighing' || carried.currentId === currentId;
  const shown = {
    ...now,
    currentId,
    newId,
    refused: isRefusedHere ? refused : null,
    lines: tapped ? withTapped(now.lines, tapped.line, tapped.container) : now.lines,
  };
  const put = (selector, html) => bench.querySelector(selector)?.replaceWith(fragmentOf(html));
  put('.bench-weigh', weighPanel(shown));
  put('.bench-steps', stepsPanel(shown));
  put('.bench-asks', questionsPanel(shown));
  bench
    .querySelector('.goods-now')
    .replaceChildren(fragmentOf(goodsNow(shown.show, shown.dryMassMg, shown.plannedDryMassMg)));
  return { bench, shown };
}

/** An entry of the log whose undoing waits. */
function strike(item, entry) {
  if (!item) return;
  item.classList.add('voided');
  item.querySelector('details')?.remove();
  const mark = document.createElement('b');
  mark.textContent = `void: ${entry.fields.reason}, ${KEPT}`;
  item.querySelector('.log-what').append(' ', mark);
}
