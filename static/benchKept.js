// What the bench looks like with the entries that wait on this device: worked into a copy of the server's last page, in
// words that say so. Readings, verdicts and ways out are the server's own modules, which run here too; when an entry is
// sent, the server works them out again and its page is the one that is shown.
import { confirmedWayHolds, judgedLine, waysOutAtScale, weighUpAfter } from './shared/server/calc/overWeighing.js';
import { doubtWords, readingAmount, readingDoubts } from './shared/server/calc/plausibleReading.js';
import { nearestInteger } from './shared/server/calc/rounding.js';
import { readingVerdict } from './shared/server/calc/weighing.js';
import { askedFor } from './shared/views/bench/containerFigures.js';
import { goodsNow, waysOutPanel } from './shared/views/bench/waysOut.js';

const KEPT = 'kept on this device';
const keptMark = (entry) => el('mark', 'kept', entry.held ? 'held in this open page' : KEPT);

const el = (name, className, ...content) => {
  const node = document.createElement(name);
  if (className) node.className = className;
  node.append(...content);
  return node;
};

export const clockOf = (zone) => {
  const format = new Intl.DateTimeFormat('en-GB', { timeZone: zone, hour: '2-digit', minute: '2-digit' });
  return (at) => format.format(at);
};

const digits = (step) => Math.max(0, 3 - Math.floor(Math.log10(Math.max(1, step))));
const amountOf = (value, unit, step) => `${(value / 1000).toFixed(digits(step))} ${unit === 'mg' ? 'g' : 'mL'}`;

/** A reading as typed, in mg or µL of its container; undefined when it is none. */
const readingOf = (text, unit) => {
  try {
    const reading = readingAmount({ text, unit, container: '' });
    return reading > 0 ? reading : undefined;
  } catch {
    return undefined;
  }
};

/** The container that is chosen in a form, with its figures in its data; undefined where none is. */
const containerOf = (form) =>
  form?.querySelector('input[name=stockLotId]:checked, input[type=hidden][name=stockLotId]') ??
  [...(form?.querySelector('select[name=stockLotId]')?.selectedOptions ?? [])].find((option) => option.value !== '');

/** What a typed reading is, and whether it is to be asked about before it is kept: by the server's own rule, on the figures of
 *  this page. Undefined where only the server can read it. */
export function readingAsked(panel, form, text) {
  const container = containerOf(form);
  const amount = container && readingOf(text, container.dataset.unit);
  if (amount === undefined) return undefined;
  const counts = Number(container.dataset.counts);
  const reading = {
    amount,
    target: Number(panel.dataset.target) / counts,
    actual: Number(panel.dataset.actual || 0) / counts,
    onHand: Number(container.dataset.left),
    step: Number(container.dataset.step),
  };
  const doubts = readingDoubts(reading);
  const { unit, code } = container.dataset;
  return {
    confirming: `${container.value}:${amount}`,
    amountWords: `${amount / 1000} ${unit === 'mg' ? 'g' : 'mL'}`,
    words: doubts.length > 0 && doubtWords({ doubts, reading, unit, name: panel.dataset.name, container: code }),
  };
}

/** Shows what the chosen container asks for: the container decides unit, target and heading. */
export function showContainer(panel) {
  const form = panel?.querySelector('.weigh-form');
  const measure = form?.querySelector('[name=measure]');
  if (!measure) return;
  const chosen = containerOf(form)?.dataset;
  const asked = askedFor(
    {
      unit: panel.dataset.unit,
      target: Number(panel.dataset.target),
      step: Number(panel.dataset.step),
      actual: panel.dataset.actual === '' ? undefined : Number(panel.dataset.actual),
      form: panel.dataset.form,
    },
    chosen ? { unit: chosen.unit, counts: Number(chosen.counts), step: Number(chosen.step), form: chosen.form } : null,
  );
  const write = (selector, text) => {
    const node = panel.querySelector(selector);
    if (node && node.textContent !== text) node.textContent = text;
  };
  write('.now-form', asked.form);
  write('.now-target span', asked.target);
  write('.now-instead', asked.instead);
  const instead = panel.querySelector('.now-instead');
  if (instead) instead.hidden = asked.instead === '';
  write('.weigh-form .unit', asked.unit);
  measure.value = asked.measure;
  measure.setAttribute('value', asked.measure);
}

/** Beyond a thousand tonnes it is no reading. */
const MOST = 1e12;

const field = (entry, name) => entry.fields.find(([n]) => n === name)?.[1] ?? '';
const path = (entry) => new URL(entry.url, location.origin).pathname.split('/').slice(3);

/** An entry in words, for the list of what is not sent and for the log. */
export const wordsOfEntry = (form, submitter, data) => {
  const label = form.dataset.words ?? submitter?.textContent.trim() ?? 'An entry';
  const get = (name) => String(data.get(name) ?? '').trim();
  const action = new URL(form.action).pathname.split('/').slice(3);
  const container = containerOf(form);
  switch (action[0]) {
    case 'weighings': {
      const unit = form.querySelector('.unit')?.textContent ?? '';
      const typed = get('amount');
      return `${label}: ${typed}${/[a-zµ]/i.test(typed) ? '' : ` ${unit}`} from ${container?.dataset.code ?? 'its container'}`;
    }
    case 'questions':
      return `${label}: ${get('answer') === 'undone' ? 'undone' : 'left as it is'}`;
    case 'steps':
      if (get('next')) return `Ended ${label}, began ${submitter?.dataset.next ?? 'the next step'}`;
      return `${get('kind') === 'stepStart' ? 'Began' : 'Ended'} ${label}`;
    case 'voices':
      return 'Voice note';
    case 'photos':
      return get('text') ? `Photo: ${get('text')}` : 'Photo';
    case 'log': {
      if (action[2] === 'voiding') return `${label} (${get('reason')})`;
      const kind = get('kind');
      if (kind === 'deviation') return `Otherwise than planned: ${get('text')}`;
      if (kind === 'temperature') {
        const unit = /[a-z°]/i.test(get('temp')) ? '' : ` ${form.querySelector('.unit')?.textContent ?? ''}`;
        return `Temperature ${get('temp')}${unit}`;
      }
      return kind === 'field' ? `${get('label')}: ${get('text')}` : get('text');
    }
    default:
      return label;
  }
};

const addresses = new Map();
const fileOf = (entry) => entry.fields.find(([, value]) => value instanceof Blob)?.[1];
/** Addresses of files that wait, made once each; those of entries gone are given back. */
const addressOf = (entry) => {
  const file = fileOf(entry);
  if (!file) return null;
  if (!addresses.has(entry.clientId)) addresses.set(entry.clientId, URL.createObjectURL(file));
  return addresses.get(entry.clientId);
};
const pictureOf = (entry) => (fileOf(entry)?.type.startsWith('image/') ? addressOf(entry) : null);
const forgetFiles = (queue) => {
  for (const [clientId, address] of addresses) {
    if (queue.some((e) => e.clientId === clientId)) continue;
    URL.revokeObjectURL(address);
    addresses.delete(clientId);
  }
};

const SYMBOLS = { within: '●', over: '▲', under: '◐', waiting: '○' };
const WORDS = { within: 'in', over: 'over', under: 'wants more', waiting: 'to weigh' };

/** Moves the mark on the tolerance bar to what is in the cup. The bar's scale is the server's: short up to where the
 *  tolerance matters, wide around the target. */
function showBar(panel, target, actual) {
  const bar = panel.querySelector('.tolerance-bar');
  if (!bar) return;
  for (const old of bar.querySelectorAll('.bar-fill, .bar-mark')) old.remove();
  const [runUp, width, around] = ['runUp', 'width', 'around'].map((name) => Number(bar.dataset[name]));
  const spread = Math.min(around * Number(panel.dataset.tolerance), target);
  const begin = target - spread;
  const amount = Math.max(0, Math.min(target + spread, actual ?? 0));
  const x = amount < begin ? (runUp * amount) / begin : runUp + ((width - runUp) * (amount - begin)) / (2 * spread);
  const unread = panel.dataset.unread !== undefined;
  bar.setAttribute('aria-label', unread || actual === undefined ? 'Tolerance band' : `In the cup, ${KEPT}`);
  if (unread || actual === undefined || !Number.isFinite(x)) return;
  const mark = document.createElementNS('http://www.w3.org/2000/svg', 'path');
  mark.setAttribute('class', 'bar-mark');
  mark.setAttribute('d', `M${x} 15l-6 -12h12z`);
  bar.append(mark);
}

/** What is in each colour's cup altogether, with what waits on this device. */
function showCups(panels) {
  for (const panel of panels.values()) {
    const words = panel.querySelector('.cup-total');
    if (!words) continue;
    const own = [...panels.values()].filter(
      (x) => x.dataset.colour === panel.dataset.colour && x.dataset.unit === 'mg',
    );
    const sum = (name) => own.reduce((total, x) => total + Number(x.dataset[name] || 0), 0);
    const text = (value) => amountOf(value, 'mg', Number(words.dataset.step));
    const unread = own.some((x) => x.dataset.unread !== undefined) ? ', and what is not read yet' : '';
    words.replaceChildren(
      `Cup of colour ${panel.dataset.colour}: `,
      el('b', '', text(sum('actual'))),
      ` in it${unread}, ${text(sum('target'))} when full`,
    );
  }
}

/** What counts in a line's cup, rounded as the server rounds it; undefined when nothing was weighed. */
const actualOf = (panel) =>
  panel.dataset.actual === '' ? undefined : nearestInteger({ value: Number(panel.dataset.actual), field: 'actual' });

/** The form of a line that wants nothing now, asleep: a way out taken for another line may ask for more of this one. */
function asleepForm(panel) {
  const form = panel.querySelector('.weigh-form');
  if (form) {
    const template = document.createElement('template');
    template.dataset.again = '';
    form.replaceWith(template);
    template.content.append(form);
  }
  return panel.querySelector('template[data-again]');
}

/** Writes a line's numbers anew after something that waits has moved them. */
function showLine(bench, panel) {
  const { unit, step } = panel.dataset;
  const target = Number(panel.dataset.target);
  const actual = actualOf(panel);
  const unread = panel.dataset.unread !== undefined;
  const verdict =
    actual === undefined || target === 0
      ? null
      : readingVerdict({ target, reading: actual, tolerance: Number(panel.dataset.tolerance) });
  const state = verdict?.verdict ?? 'waiting';
  const difference = verdict?.difference ?? 0;
  panel.classList.remove('is-waiting', 'is-under', 'is-within', 'is-over');
  panel.classList.add(`is-${state}`);
  panel.dataset.state = state;
  const target_ = panel.querySelector('.now-target span');
  if (target_) target_.textContent = amountOf(target, unit, step);
  showBar(panel, target, actual);
  const words = unread
    ? 'A reading that only the studio’s computer can read is kept on this device.'
    : actual === undefined
      ? 'Nothing in the cup.'
      : `In the cup ${amountOf(actual, unit, step)}, with what is ${KEPT}.`;
  panel.querySelector('.now-about')?.replaceChildren(el('b', '', words));
  for (const old of panel.querySelectorAll('.ways-out, .line-verdict')) old.remove();
  if (!unread && (state === 'waiting' || state === 'under')) {
    const asleep = panel.querySelector('template[data-again]');
    asleep?.replaceWith(asleep.content);
    const form = panel.querySelector('.weigh-form');
    form.querySelector('label').textContent = state === 'under' ? 'Added now' : 'Reading';
    const button = form.querySelector('button.primary');
    if (button) button.textContent = state === 'under' ? `Add ${amountOf(-difference, unit, step)}` : 'It is weighed';
  } else {
    const words = unread
      ? 'It is judged when it is sent.'
      : state === 'within'
        ? 'Within tolerance.'
        : `Over by ${amountOf(difference, unit, step)}. The ways out are worked out once it is sent; or take the reading back, above.`;
    asleepForm(panel).before(el('p', `notice line-verdict ${state === 'within' && !unread ? 'good' : 'warn'}`, words));
  }
  const tab = bench.querySelector(`.line-tab[data-line="${panel.dataset.line}"]`);
  if (!tab) return;
  for (const s of Object.keys(WORDS)) tab.classList.toggle(`is-${s}`, s === state);
  tab.querySelector('.line-state').textContent = SYMBOLS[state];
  const number = tab.querySelector('.num');
  const fine = tab.querySelector('.line-words');
  number.replaceChildren(amountOf(target, unit, step), document.createElement('br'), fine);
  fine.textContent = unread
    ? KEPT
    : `${actual === undefined ? WORDS.waiting : `${amountOf(actual, unit, step)} ${WORDS[state]}`}, ${KEPT}`;
}

function addLog(bench, entry, clock) {
  const picture = pictureOf(entry);
  const what = el('span', 'log-what', entry.words, ' ', keptMark(entry));
  if (picture) {
    const image = el('img');
    image.src = picture;
    image.alt = `Photo at ${clock(entry.at)}, ${KEPT}`;
    what.append(el('br'), image);
  }
  const li = el('li', 'is-kept', el('span', 'log-at', clock(entry.at)), what, el('span', 'fine', entry.personName));
  li.dataset.key = `kept-${entry.clientId}`;
  bench.querySelector('ol.log')?.prepend(li);
}

/** What a reading that waits has taken out of its container, in every form that offers it. */
function takeFrom(panels, stockLotId, reading) {
  for (const panel of panels.values()) {
    const asleep = panel.querySelector('template[data-again]')?.content;
    for (const place of [panel, asleep])
      for (const container of place?.querySelectorAll('[data-left]') ?? [])
        if (container.value === stockLotId) container.dataset.left = String(Number(container.dataset.left) - reading);
  }
}

function weigh(bench, panels, entry, clock) {
  const panel = panels.get(field(entry, 'componentId'));
  if (!panel) return;
  const asleep = panel.querySelector('template[data-again]')?.content;
  const option = [panel, asleep]
    .flatMap((place) => [...(place?.querySelectorAll('select[name=stockLotId] option, input[name=stockLotId]') ?? [])])
    .find((o) => o.value === field(entry, 'stockLotId'));
  if (option) Object.assign(panel.dataset, { counts: option.dataset.counts, containerUnit: option.dataset.unit });
  const reading = readingOf(field(entry, 'amount'), panel.dataset.containerUnit);
  const counted = reading === undefined ? Number.NaN : reading * Number(panel.dataset.counts);
  const li = el('li', 'is-kept', `${clock(entry.at)} ${entry.words} `, keptMark(entry));
  if (reading !== undefined) takeFrom(panels, field(entry, 'stockLotId'), reading);
  if (counted < MOST) {
    panel.dataset.actual = String(Number(panel.dataset.actual || 0) + counted);
    li.dataset.counts = String(counted);
  } else panel.dataset.unread = '';
  li.dataset.key = `kept-weighing-${entry.clientId}`;
  panel.querySelector('.weighings')?.append(li);
  showLine(bench, panel);
}

/** The weigh-up with what is in the cups by now. */
const weighUpNow = (weighUp, panels) => ({
  ...weighUp,
  lines: weighUp.lines.map((line) => {
    const panel = panels.get(line.lineId);
    return { ...line, actual: panel && actualOf(panel) };
  }),
});

/** The figures that a choice carries; one of an earlier version carries none, and holds on none. */
const confirmedIn = (entry) => {
  try {
    return JSON.parse(field(entry, 'confirmed'));
  } catch {
    return { lines: [], after: { lines: [], discarded: [] } };
  }
};

/** Works a way out that waits into every line that it changes. Answers the weigh-up as it is then. */
function chooseWayOut(bench, panels, entry, scale) {
  const panel = panels.get(field(entry, 'componentId'));
  if (!panel) return scale;
  const chosen = () => asleepForm(panel).before(el('p', 'notice', entry.words, ' ', el('mark', 'kept', KEPT)));
  if (!scale) {
    // A copy of the page from before it carried its weigh-up.
    chosen();
    panel.dataset.unread = '';
    showLine(bench, panel);
    return scale;
  }
  const before = weighUpNow(scale.weighUp, panels);
  const overLineId = panel.dataset.line;
  const way = waysOutAtScale({ weighUp: before, overLineId, stage: field(entry, 'stage') }).find(
    (w) => w.kind === field(entry, 'way') && w.vessel === field(entry, 'vessel'),
  );
  // The choice travels with the figures it was made on; where they do not hold any more, it is not worked in, and the studio's
  // computer asks.
  if (!way || !confirmedWayHolds({ weighUp: before, overLineId, way, confirmed: confirmedIn(entry) })) {
    asleepForm(panel).before(
      el(
        'p',
        'notice warn',
        entry.words,
        ' ',
        el('mark', 'kept', KEPT),
        ' It was chosen on other figures than these: once it is sent, you are asked again.',
      ),
    );
    return scale;
  }
  chosen();
  const weighUp = weighUpAfter({ weighUp: before, overLineId, way });
  for (const [i, line] of weighUp.lines.entries()) {
    const other = panels.get(line.lineId);
    if (!other) continue;
    const emptied = line.actual === undefined && before.lines[i].actual !== undefined;
    if (emptied) {
      other.dataset.actual = '';
      for (const li of other.querySelectorAll('.weighings [data-counts]')) li.dataset.counts = '';
    }
    if (!emptied && line.target === before.lines[i].target) continue;
    other.dataset.target = String(line.target);
    other.dataset.tolerance = String(judgedLine({ line, tolerancePct: weighUp.tolerancePct }).tolerance);
    showLine(bench, other);
  }
  bench
    .querySelector('.goods-now')
    ?.replaceChildren(fragmentOf(goodsNow(scale.show, weighUp.goodsDryMassMg, weighUp.plannedGoodsDryMassMg)));
  return { ...scale, weighUp };
}

const fragmentOf = (html) => {
  const holder = document.createElement('template');
  holder.innerHTML = String(html);
  return holder.content;
};

/** The ways out of every line that is over, worked out here. Where a reading is only known to the server, so are they. */
function showWaysOut(bench, panels, scale, wayId) {
  if (!scale || [...panels.values()].some((panel) => panel.dataset.unread !== undefined)) return;
  const now = { ...scale, weighUp: weighUpNow(scale.weighUp, panels) };
  for (const panel of panels.values()) {
    if (panel.dataset.state !== 'over') continue;
    const ways = waysOutPanel({
      lotId: Number(bench.dataset.lot),
      order: bench.dataset.order,
      scale: now,
      lineId: panel.dataset.line,
      newId: wayId,
    });
    panel.querySelector('.ways-out, .line-verdict')?.replaceWith(fragmentOf(ways));
  }
}

function step(bench, entry, clock) {
  const li = bench.querySelector(`.step[data-step="${field(entry, 'stepId')}"]`);
  const form = li?.querySelector('form');
  if (!form) return;
  const time = li.querySelector('.step-time');
  if (field(entry, 'kind') === 'stepEnd') {
    li.className = 'step is-done';
    li.dataset.state = 'done';
    time.replaceChildren(el('span', 'fine', `ended ${clock(entry.at)} `), el('mark', 'kept', KEPT));
    form.remove();
    const next = field(entry, 'next');
    if (next) begin(bench.querySelector(`.step[data-step="${next}"]`), entry, clock);
    return;
  }
  begin(li, entry, clock);
}

function begin(li, entry, clock) {
  const form = li?.querySelector('form');
  if (!form) return;
  const time = li.querySelector('.step-time');
  li.className = 'step is-running';
  li.dataset.state = 'running';
  const timer = el('span', 'timer running', el('b', '', ''));
  timer.dataset.endsAt = String(entry.at + Number(li.dataset.plannedS) * 1000);
  time.replaceChildren(timer, ' ', el('span', 'fine', `began ${clock(entry.at)} `), el('mark', 'kept', KEPT));
  form.querySelector('[name=kind]').value = 'stepEnd';
  form.querySelector('[name=kind]').setAttribute('value', 'stepEnd');
  const button = form.querySelector('button');
  button.className = 'primary big';
  button.firstChild.textContent = 'End ';
}

function voiding(bench, panels, entry) {
  const entryId = path(entry)[1];
  const mark = () => el('b', '', `void: ${field(entry, 'reason')}, ${KEPT}`);
  const inLog = bench.querySelector(`#entry-${entryId}`);
  inLog?.classList.add('voided');
  inLog?.querySelector('details')?.remove();
  inLog?.querySelector('.log-what')?.append(' ', mark());
  for (const panel of panels.values()) {
    const li = panel.querySelector(`.weighings [data-entry="${entryId}"]`);
    if (!li) continue;
    li.querySelector('details')?.remove();
    li.append(mark());
    const left = Number(panel.dataset.actual || 0) - Number(li.dataset.counts || 0);
    li.dataset.counts = '';
    const others = [...panel.querySelectorAll('.weighings [data-counts]')].some((x) => Number(x.dataset.counts) > 0);
    panel.dataset.actual = others ? String(left) : '';
    showLine(bench, panel);
  }
}

/** A question whose answer waits: it is not asked again meanwhile. */
function answered(bench, entry) {
  const ask = bench.querySelector(`.bench-ask[data-key="question-${path(entry)[1]}"]`);
  ask?.querySelector('.taps')?.replaceWith(el('p', '', 'Answered, ', el('mark', 'kept', KEPT)));
}

/** The server's bench with what waits worked in. `chosen` is the line that is asked for; `stay` the one on the screen,
 *  which stays as long as it wants something; otherwise it is the next. `wayId` gives the form of a way out its id. */
export function benchWith({ serverHtml, queue, chosen, stay, wayId }) {
  const holder = document.createElement('template');
  holder.innerHTML = serverHtml;
  const bench = holder.content.firstElementChild;
  const clock = clockOf(bench.dataset.zone);
  forgetFiles(queue);
  const section = bench.querySelector('.bench-weigh');
  const slot = section.querySelector('.now-weigh, .all-weighed');
  const panels = new Map();
  if (slot.dataset.line) panels.set(slot.dataset.line, slot);
  for (const template of section.querySelectorAll('template[data-panel]')) {
    panels.set(template.dataset.panel, template.content.firstElementChild);
    template.remove();
  }
  let scale = bench.dataset.scale ? JSON.parse(bench.dataset.scale) : null;
  for (const entry of queue) {
    const [kind, , act] = path(entry);
    if (kind === 'weighings') weigh(bench, panels, entry, clock);
    else if (kind === 'adjustments') scale = chooseWayOut(bench, panels, entry, scale);
    else if (kind === 'steps') step(bench, entry, clock);
    else if (act === 'voiding') voiding(bench, panels, entry);
    else if (kind === 'questions') answered(bench, entry);
    addLog(bench, entry, clock);
  }
  if (queue.length > 0) {
    showCups(panels);
    showWaysOut(bench, panels, scale, wayId);
  }
  const settle = (panel) => panel.dataset.unread !== undefined;
  const order = [...bench.querySelectorAll('.line-tab')].map((tab) => tab.dataset.line);
  const first = (test) => order.find((id) => panels.has(id) && !settle(panels.get(id)) && test(id));
  const stateOf = (id) => panels.get(id).dataset.state;
  const next =
    first((id) => panels.get(id).querySelector('.ways-out') !== null) ??
    first((id) => stateOf(id) === 'under') ??
    first((id) => stateOf(id) === 'waiting');
  const wants = (id) => panels.has(id) && !settle(panels.get(id)) && ['waiting', 'under'].includes(stateOf(id));
  const shown = panels.has(chosen) ? chosen : wants(stay) ? stay : next;
  for (const panel of panels.values()) showContainer(panel);
  if (shown === undefined) slot.replaceWith(nothingNext(panels));
  else if (panels.get(shown) !== slot) slot.replaceWith(panels.get(shown));
  for (const tab of bench.querySelectorAll('.line-tab')) {
    if (tab.dataset.line === shown) tab.setAttribute('aria-current', 'true');
    else tab.removeAttribute('aria-current');
  }
  for (const asleep of bench.querySelectorAll('template')) asleep.remove();
  const done = [...panels.values()].filter((p) => p.dataset.state === 'within').length;
  const heading = section.querySelector('h2 .fine');
  if (heading) heading.textContent = `${done} of ${panels.size} in`;
  const toStart = [...bench.querySelectorAll('.step[data-state=waiting] button')];
  for (const [i, button] of toStart.entries()) button.className = i === 0 ? 'primary big' : '';
  return bench;
}

const nothingNext = (panels) => {
  const open = [...panels.values()].some((p) => p.dataset.state !== 'within' || p.dataset.unread !== undefined);
  const words = open ? 'Everything is weighed; some lines are judged once they are sent.' : 'Everything is weighed.';
  return el('p', `notice ${open ? 'warn' : 'good'} all-weighed`, words);
};

/** What is not sent, above the bench: its state in a sentence, and the rest. */
export function unsentPanel({
  bench,
  queue,
  others,
  connection,
  since,
  stalled,
  signedOut,
  reopens,
  sendsClosed,
  storage,
  kept,
  open,
}) {
  const clock = clockOf(bench.dataset.zone);
  const n = queue.length;
  const things = `${n} ${n === 1 ? 'entry' : 'entries'}`;
  const refused = queue.find((e) => e.state === 'refused');
  const its = n === 1 ? 'it' : 'them';
  const held = queue.filter((e) => e.held).length;
  const where = held > 0 && held === n ? 'held in this open page' : 'kept on this device';
  const state = signedOut
    ? n === 0
      ? 'Signed out. Sign in again to go on.'
      : `Signed out: ${things} on this device ${n === 1 ? 'goes' : 'go'} out when you sign in again.`
    : refused
      ? `${things} not sent: one was refused and holds up the rest.`
      : connection === 'away'
        ? `No connection since ${clock(since)}. ${n === 0 ? 'What you do is kept on this device and goes out by itself.' : `${things} not sent, ${where}; ${n === 1 ? 'it goes' : 'they go'} out by ${n === 1 ? 'itself' : 'themselves'}.`}`
        : n > 0 && stalled
          ? `${things} not sent: the studio’s computer answers, but has not taken ${its}. Tried again, and ${where} meanwhile.`
          : n > 0
            ? `Sending ${things} …`
            : connection === 'unknown' && kept
              ? 'Looking for the studio’s computer …'
              : 'Connected.';
  const how =
    storage === 'memory'
      ? 'This device stores nothing for this page: keep it open until everything is sent.'
      : reopens
        ? `Works without network, closed and opened again too${sendsClosed ? '; what waits goes out even while it is closed' : ''}.${storage === 'filesInMemory' ? ' Photos and voice notes only as long as this page stays open, since this device does not store them.' : ''}`
        : 'Goes on without network as long as this page stays open. Closed, it opens again when the network is back, and sends the rest then.';
  const nodes = [];
  const quiet = n === 0 && connection !== 'away' && !signedOut;
  if (signedOut) {
    const link = el('a', 'button', 'Sign in');
    link.href = `/sign-in?to=${encodeURIComponent(location.pathname)}`;
    nodes.push(el('p', '', link));
  }
  if (kept) nodes.push(el('p', 'fine', `This page is the device’s own copy, as it was at ${clock(kept)}.`));
  if (held > 0) {
    const which = held === n ? (n === 1 ? 'It' : 'They') : `${held} of them`;
    const words = `${which} could not be stored on this device and ${held === 1 ? 'stands' : 'stand'} in this open page alone. Leave it open until ${held === 1 ? 'it is' : 'they are'} sent.`;
    nodes.push(el('p', 'notice warn held-words', words));
  }
  if (n > 0) {
    const list = el('ol', 'unsent-list');
    for (const entry of queue) list.append(unsentEntry(entry, clock));
    const details = el('details', 'unsent-details', el('summary', '', `Not sent: ${n}`), list);
    details.open = open || refused !== undefined;
    nodes.push(details);
  }
  for (const [key, lot] of others) {
    const link = el('a', '', `lot ${lot.number}`);
    link.href = `/lots/${lot.lotId}/bench`;
    const words = lot.personName
      ? [`${lot.count} of ${lot.personName} for `, link, `: out when ${lot.personName} signs in here.`]
      : [`${lot.count} more for `, link, '.'];
    const p = el('p', 'fine', ...words);
    p.dataset.key = key;
    nodes.push(p);
  }
  if (reopens !== null || storage === 'memory') nodes.push(el('p', 'fine', how));
  // Where nothing is amiss it is one quiet line: the next thing to weigh should fill the screen.
  return { state, nodes, quiet };
}

function unsentEntry(entry, clock) {
  const button = (act, label) => {
    const b = el('button', 'quiet', label);
    b.type = 'button';
    b.dataset.unsentAct = act;
    b.dataset.seq = String(entry.seq);
    return b;
  };
  const what = el('span', 'grow', el('b', '', clock(entry.at)), ` ${entry.words}`);
  const sure = (summary, label) => el('details', 'void', el('summary', '', summary), button('drop', label));
  if (entry.state !== 'refused') return el('li', '', what, sure('Take back', 'Take it back'));
  what.append(
    el('br'),
    el('strong', 'refused-words', `Refused: ${entry.refusal.words}`),
    el('br'),
    el('span', 'fine', `As kept: ${typedOf(entry)}`),
  );
  return el(
    'li',
    'is-refused',
    what,
    ...savedFile(entry),
    button('retry', 'Try again'),
    sure('Drop it', 'Yes, drop it'),
  );
}

/** A photo or a recording that was refused is nowhere else: it can be saved to the device. */
const savedFile = (entry) => {
  const address = addressOf(entry);
  if (address === null) return [];
  const link = el('a', 'button quiet', 'Save the file');
  link.href = address;
  link.download = fileOf(entry).name;
  return [link];
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
const typedOf = (entry) => {
  const typed = entry.fields
    .filter(([name, value]) => !NOT_TYPED.has(name) && !(value instanceof Blob) && String(value).trim() !== '')
    .map(([, value]) => `“${value}”`);
  if (entry.fields.some(([, value]) => value instanceof Blob)) typed.push('with its picture');
  return typed.join(', ') || entry.words;
};
