// The placement's editor: paints cells with a colour, marks ice and clamps, draws folds and bindings. By finger or mouse a
// stroke paints or draws; by keyboard the arrows walk the grid and Enter does what a tap does.
import * as outbox from './outbox.js';
import { fieldsOf, pressedOf } from './pressed.js';

const form = document.getElementById('placement-editor');
const colours = JSON.parse(form.dataset.colours);
const field = form.querySelector('input[name=drawing]');
const said = form.querySelector('.placement-said');
const personId = Number(form.dataset.person);
const HISTORY = 200;
const MAX = { columns: 24, rows: 36 };

let d = JSON.parse(form.dataset.drawing);
const undone = [];
let tool = colours.length > 0 ? `colour-1` : 'fold';
/** Where a line begins that is waiting for its other end, in half cells. */
let from = null;
/** The cell that Tab comes to. */
let here = 0;

const el = (name, className, ...content) => {
  const node = document.createElement(name);
  if (className) node.className = className;
  node.append(...content);
  return node;
};
const svg = (name, attributes) => {
  const node = document.createElementNS('http://www.w3.org/2000/svg', name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, String(value));
  return node;
};
const say = (words) => {
  said.textContent = words;
};
const button = (label, act, className = '') => {
  const b = el('button', className, label);
  b.type = 'button';
  b.addEventListener('click', act);
  return b;
};

// ── the drawing ──

/** Before every change: what stood is kept, so that it can be taken back. */
function remember() {
  undone.push(JSON.stringify(d));
  if (undone.length > HISTORY) undone.shift();
}

function takeBack() {
  const last = undone.pop();
  if (last === undefined) return say('Nothing to take back.');
  d = JSON.parse(last);
  from = null;
  build();
  say('Taken back.');
}

const colourOf = (ordinal) => colours.find((c) => c.ordinal === ordinal);
const rowOf = (cell) => Math.floor(cell / d.columns);
const columnOf = (cell) => cell % d.columns;

function toggled(list, cell, on) {
  const has = list.includes(cell);
  if (on === has) return list;
  return on ? [...list, cell].sort((x, y) => x - y) : list.filter((c) => c !== cell);
}

/** What a tool makes of a cell; a stroke does to every cell what it did to its first. */
function apply(cell, on) {
  if (tool.startsWith('colour-')) d.cells[cell] = Number(tool.slice(7));
  else if (tool === 'bare') {
    d.cells[cell] = 0;
    d.ice = toggled(d.ice, cell, false);
    d.clamps = toggled(d.clamps, cell, false);
  } else if (tool === 'ice') d.ice = toggled(d.ice, cell, on);
  else if (tool === 'clamp') d.clamps = toggled(d.clamps, cell, on);
  showCell(cell);
}
const firstOn = (cell) => (tool === 'ice' ? !d.ice.includes(cell) : tool === 'clamp' ? !d.clamps.includes(cell) : true);
const drawsLines = () => tool === 'fold' || tool === 'binding';

function addLine(a, b) {
  if (a.x === b.x && a.y === b.y) return say('A line needs two points.');
  if (d.lines.length >= 60) return say('Sixty lines are as many as can be kept.');
  remember();
  d.lines.push({ kind: tool, x1: a.x, y1: a.y, x2: b.x, y2: b.y });
  showLines();
  keep();
  say(`${tool === 'fold' ? 'Fold' : 'Binding'} drawn.`);
}

/** Rows or columns shared out among the colours by their shares of the piece. */
function bandOf(index, count) {
  const total = colours.reduce((sum, c) => sum + c.sharePpm, 0);
  let reached = 0;
  for (const c of colours) {
    reached += c.sharePpm;
    if (index < Math.round((count * reached) / total)) return c.ordinal;
  }
  return colours.at(-1).ordinal;
}

const SPREADS = {
  'Bands across': (_, row) => bandOf(row, d.rows),
  'Bands along': (column) => bandOf(column, d.columns),
  Blocks: (column, row) => {
    const wide = Math.ceil(Math.sqrt(colours.length));
    const high = Math.ceil(colours.length / wide);
    const at =
      Math.min(high - 1, Math.floor((row * high) / d.rows)) * wide +
      Math.min(wide - 1, Math.floor((column * wide) / d.columns));
    return colours[at % colours.length].ordinal;
  },
  Rings: (column, row) => {
    const edge = Math.min(column, row, d.columns - 1 - column, d.rows - 1 - row);
    const rings = Math.ceil(Math.min(d.columns, d.rows) / 2);
    return bandOf(rings - 1 - edge, rings);
  },
};

function spread(name) {
  remember();
  d.cells = d.cells.map((_, cell) => SPREADS[name](columnOf(cell), rowOf(cell)));
  showAll();
  say(`${name}: every colour over its share.`);
}

const FOLDS = {
  'In half across': () => acrossAt([1 / 2]),
  'In half along': () => alongAt([1 / 2]),
  'In quarters across': () => acrossAt([1 / 4, 1 / 2, 3 / 4]),
  'In quarters along': () => alongAt([1 / 4, 1 / 2, 3 / 4]),
  'Corner to corner': () => [{ x1: 0, y1: 0, x2: 2 * d.columns, y2: 2 * d.rows }],
};
const acrossAt = (parts) =>
  parts.map((p) => ({ x1: 0, x2: 2 * d.columns, y1: Math.round(2 * d.rows * p), y2: Math.round(2 * d.rows * p) }));
const alongAt = (parts) =>
  parts.map((p) => ({ y1: 0, y2: 2 * d.rows, x1: Math.round(2 * d.columns * p), x2: Math.round(2 * d.columns * p) }));

function addFolds(name) {
  const lines = FOLDS[name]().map((line) => ({ kind: tool, ...line }));
  const fresh = lines.filter((l) => !d.lines.some((have) => JSON.stringify(have) === JSON.stringify(l)));
  if (fresh.length === 0 || d.lines.length + fresh.length > 60) return say('That is drawn already.');
  remember();
  d.lines.push(...fresh);
  showLines();
  keep();
  say(`${name}: drawn.`);
}

function resize(side, by) {
  const next = { columns: d.columns, rows: d.rows };
  next[side] = Math.min(MAX[side], Math.max(2, next[side] + by));
  if (next[side] === d[side]) return;
  remember();
  const { columns, rows } = next;
  const old = d;
  const moved = (list) =>
    list
      .filter((c) => c % old.columns < columns && Math.floor(c / old.columns) < rows)
      .map((c) => Math.floor(c / old.columns) * columns + (c % old.columns));
  d = {
    columns,
    rows,
    cells: Array.from({ length: columns * rows }, (_, cell) => {
      const x = cell % columns;
      const y = Math.floor(cell / columns);
      return x < old.columns && y < old.rows ? old.cells[y * old.columns + x] : 0;
    }),
    ice: moved(old.ice),
    clamps: moved(old.clamps),
    lines: old.lines.filter((l) => Math.max(l.x1, l.x2) <= 2 * columns && Math.max(l.y1, l.y2) <= 2 * rows),
  };
  build();
  say(`${columns} columns, ${rows} rows.`);
}

// ── the board ──

const board = form.querySelector('.placement-board');
let grid;
let lines;
let cells = [];

const inWords = (cell) => {
  const c = colourOf(d.cells[cell]);
  const marks = [d.ice.includes(cell) ? 'ice' : '', d.clamps.includes(cell) ? 'clamp' : ''].filter(Boolean).join(', ');
  return `Row ${rowOf(cell) + 1}, column ${columnOf(cell) + 1}: ${c ? `${c.ordinal} ${c.name}` : 'bare'}${marks ? `, ${marks}` : ''}`;
};

function showCell(cell) {
  const b = cells[cell];
  const c = colourOf(d.cells[cell]);
  b.style.background = c ? c.fill : '';
  b.style.color = c ? c.ink : '';
  b.classList.toggle('has-ice', d.ice.includes(cell));
  b.classList.toggle('has-clamp', d.clamps.includes(cell));
  b.textContent = c ? String(c.ordinal) : '';
  b.setAttribute('aria-label', inWords(cell));
}

function keep() {
  field.value = JSON.stringify(d);
}

function showAll() {
  for (let cell = 0; cell < cells.length; cell++) showCell(cell);
  showLines();
  keep();
}

function showLines() {
  lines.setAttribute('viewBox', `0 0 ${2 * d.columns} ${2 * d.rows}`);
  const drawn = d.lines.flatMap(({ kind, x1, y1, x2, y2 }) => [
    svg('line', { x1, y1, x2, y2, class: 'line-halo' }),
    svg('line', { x1, y1, x2, y2, class: `line-${kind}` }),
    ...(kind === 'binding' ? [svg('line', { x1, y1, x2, y2, class: 'line-turns' })] : []),
  ]);
  if (from) drawn.push(svg('circle', { cx: from.x, cy: from.y, r: 0.35, class: 'line-from' }));
  lines.replaceChildren(...drawn);
}

/** The nearest point half a cell apart. */
function pointAt(event) {
  const box = grid.getBoundingClientRect();
  const x = Math.round((2 * d.columns * (event.clientX - box.left)) / box.width);
  const y = Math.round((2 * d.rows * (event.clientY - box.top)) / box.height);
  return { x: Math.min(2 * d.columns, Math.max(0, x)), y: Math.min(2 * d.rows, Math.max(0, y)) };
}
const cellAt = (event) => {
  const box = grid.getBoundingClientRect();
  const x = Math.floor((d.columns * (event.clientX - box.left)) / box.width);
  const y = Math.floor((d.rows * (event.clientY - box.top)) / box.height);
  return x < 0 || y < 0 || x >= d.columns || y >= d.rows ? -1 : y * d.columns + x;
};
const middleOf = (cell) => ({ x: 2 * columnOf(cell) + 1, y: 2 * rowOf(cell) + 1 });

/** One end of a line, then the other: by two taps or two presses of Enter. */
function lineEnd(point) {
  if (from === null) {
    from = point;
    showLines();
    return say('From here. Now where it ends.');
  }
  const start = from;
  from = null;
  addLine(start, point);
  showLines();
}

let stroke = null;
function beginStroke(event) {
  if (event.button !== 0) return;
  const cell = cellAt(event);
  if (cell < 0) return;
  event.preventDefault();
  grid.setPointerCapture(event.pointerId);
  focusCell(cell, false);
  if (drawsLines()) {
    stroke = { line: true, start: pointAt(event) };
    return;
  }
  remember();
  stroke = { line: false, on: firstOn(cell), last: cell };
  apply(cell, stroke.on);
}
function goOn(event) {
  if (!stroke || stroke.line) return;
  const cell = cellAt(event);
  if (cell < 0 || cell === stroke.last) return;
  // A quick finger jumps cells: those between are part of the stroke.
  const steps = Math.max(Math.abs(columnOf(cell) - columnOf(stroke.last)), Math.abs(rowOf(cell) - rowOf(stroke.last)));
  for (let i = 1; i <= steps; i++) {
    const x = Math.round(columnOf(stroke.last) + ((columnOf(cell) - columnOf(stroke.last)) * i) / steps);
    const y = Math.round(rowOf(stroke.last) + ((rowOf(cell) - rowOf(stroke.last)) * i) / steps);
    apply(y * d.columns + x, stroke.on);
  }
  stroke.last = cell;
}
function endStroke(event) {
  if (!stroke) return;
  const { line, start, last } = stroke;
  stroke = null;
  if (!line) {
    keep();
    say(inWords(last));
    return;
  }
  const end = pointAt(event);
  // A tap that did not travel is one end; the next tap is the other.
  if (Math.abs(end.x - start.x) + Math.abs(end.y - start.y) < 2) lineEnd(start);
  else {
    from = null;
    addLine(start, end);
  }
}

function focusCell(cell, move = true) {
  cells[here]?.setAttribute('tabindex', '-1');
  here = cell;
  cells[here].setAttribute('tabindex', '0');
  if (move) cells[here].focus();
}

function onKey(event) {
  const cell = cells.indexOf(event.target);
  if (cell < 0) return;
  const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] ?? [0, 0];
  if (dx !== 0 || dy !== 0) {
    event.preventDefault();
    const x = Math.min(d.columns - 1, Math.max(0, columnOf(cell) + dx));
    const y = Math.min(d.rows - 1, Math.max(0, rowOf(cell) + dy));
    const next = y * d.columns + x;
    if (event.shiftKey && !drawsLines()) {
      remember();
      apply(next, firstOn(next));
      keep();
    }
    focusCell(next);
  } else if (event.key === 'Enter' || event.key === ' ') {
    event.preventDefault();
    if (drawsLines()) return lineEnd(middleOf(cell));
    remember();
    apply(cell, firstOn(cell));
    keep();
    say(inWords(cell));
  } else if (event.key === 'Escape') {
    from = null;
    showLines();
  }
}

function build() {
  grid = el('div', 'placement-grid');
  grid.setAttribute('role', 'grid');
  grid.setAttribute('aria-label', 'The goods from above. Arrows walk, Enter does what the chosen tool does.');
  grid.style.gridTemplateColumns = `repeat(${d.columns}, 1fr)`;
  grid.style.aspectRatio = `${d.columns} / ${d.rows}`;
  // As large as the width allows, and low enough that the goods are seen whole, yet a finger still meets one cell.
  grid.style.maxWidth = `max(calc(${(70 * d.columns) / d.rows}dvh), ${24 * d.columns}px)`;
  here = Math.min(here, d.columns * d.rows - 1);
  cells = [];
  for (let y = 0; y < d.rows; y++) {
    const row = el('div', 'placement-row');
    row.setAttribute('role', 'row');
    for (let x = 0; x < d.columns; x++) {
      const cell = el('button', 'placement-cell');
      cell.type = 'button';
      cell.setAttribute('role', 'gridcell');
      cell.setAttribute('tabindex', '-1');
      cells.push(cell);
      row.append(cell);
    }
    grid.append(row);
  }
  cells[here].setAttribute('tabindex', '0');
  lines = svg('svg', { class: 'placement-lines', 'aria-hidden': 'true', preserveAspectRatio: 'none' });
  grid.addEventListener('pointerdown', beginStroke);
  grid.addEventListener('pointermove', goOn);
  grid.addEventListener('pointerup', endStroke);
  grid.addEventListener('pointercancel', endStroke);
  grid.addEventListener('keydown', onKey);
  const held = el('div', 'placement-held', grid, lines);
  held.style.maxWidth = grid.style.maxWidth;
  board.replaceChildren(held);
  showAll();
  showTools();
}

// ── the tools ──

const tools = form.querySelector('.placement-tools');
const TOOLS = [
  ...colours.map((c) => ({ id: `colour-${c.ordinal}`, label: `${c.ordinal} ${c.name}`, colour: c })),
  { id: 'bare', label: 'Bare' },
  { id: 'fold', label: 'Fold' },
  { id: 'binding', label: 'Binding' },
  { id: 'clamp', label: 'Clamp or block' },
  { id: 'ice', label: 'Ice here' },
];

function toolButton(t) {
  const b = button(t.label, () => {
    tool = t.id;
    from = null;
    showTools();
    showLines();
    tools.querySelector('[aria-pressed=true]')?.focus({ preventScroll: true });
  });
  b.setAttribute('aria-pressed', String(t.id === tool));
  if (t.colour) {
    const patch = svg('svg', { viewBox: '0 0 10 10', 'aria-hidden': 'true', class: 'tool-patch' });
    patch.append(svg('rect', { width: 10, height: 10, fill: t.colour.fill }));
    b.prepend(patch);
  }
  return b;
}

const group = (label, className, ...buttons) => {
  const node = el('div', `taps ${className}`, ...buttons);
  node.setAttribute('role', 'group');
  node.setAttribute('aria-label', label);
  return node;
};

function showTools() {
  const quick = tool.startsWith('colour-')
    ? Object.keys(SPREADS).map((name) => button(name, () => spread(name), 'quiet'))
    : tool === 'fold' || tool === 'binding'
      ? Object.keys(FOLDS).map((name) => button(name, () => addFolds(name), 'quiet'))
      : tool === 'ice' || tool === 'clamp'
        ? [
            button(
              tool === 'ice' ? 'Ice all over' : 'No clamps',
              () => {
                remember();
                if (tool === 'ice') d.ice = d.cells.map((_, cell) => cell);
                else d.clamps = [];
                showAll();
                say(tool === 'ice' ? 'Ice all over.' : 'No clamps.');
              },
              'quiet',
            ),
          ]
        : [];
  const size = (side, by, label) => button(label, () => resize(side, by), 'quiet');
  tools.replaceChildren(
    group('Draw with', 'tool-choice', ...TOOLS.map(toolButton)),
    group('All at once', 'tool-quick', ...quick, button('Take back', takeBack, 'quiet')),
  );
  sizes.replaceChildren(
    group(
      'Grid',
      'tool-size',
      size('columns', -1, 'Narrower'),
      size('columns', 1, 'Wider'),
      size('rows', -1, 'Shorter'),
      size('rows', 1, 'Longer'),
    ),
  );
}

// ── keeping it ──

/** The device's outbox sends it as it sends every entry of the bench: a network that fails loses no drawing. */
outbox.sendAs(personId);
const heardAt = performance.timeOrigin + (performance.getEntriesByType('navigation')[0]?.responseStart ?? 0);
const ahead = Number(form.dataset.now) - heardAt;
const nowAtServer = () => Math.round(Date.now() + (Math.abs(ahead) < 2000 ? 0 : ahead));

form.addEventListener('submit', async (event) => {
  keep();
  event.preventDefault();
  const data = fieldsOf(form, pressedOf(event));
  const clientId = String(data.get('clientId'));
  for (const b of form.querySelectorAll('button[name=of]')) b.disabled = true;
  say('Keeping the drawing …');
  await outbox.keep({
    clientId,
    lotId: Number(form.dataset.lot),
    lotNumber: form.dataset.number,
    personId,
    personName: form.dataset.personName,
    url: new URL(form.action).pathname,
    at: nowAtServer(),
    words: data.get('of') === 'plan' ? 'Placement as meant, drawn' : 'Placement as it lies, drawn',
    fields: [...data].filter(([name]) => name !== 'clientId'),
  });
  await settle(clientId, data.get('of'));
});

/** After the outbox has tried: on to the page that shows the drawing, or the words that say why not. */
async function settle(clientId, of) {
  await outbox.flush();
  const waiting = (await outbox.entries()).find((e) => e.clientId === clientId);
  if (!waiting) {
    location.assign(of === 'plan' ? `/lots/${form.dataset.lot}#placement` : `/lots/${form.dataset.lot}/bench`);
    return;
  }
  if (waiting.state === 'refused') {
    await outbox.drop(waiting.seq);
    form.querySelector('input[name=clientId]').value = `${clientId.slice(0, 50)}-again`;
    for (const b of form.querySelectorAll('button[name=of]')) b.disabled = false;
    say(`Refused: ${waiting.refusal.words}`);
    return;
  }
  say(
    waiting.held
      ? 'Not sent yet, and this device does not store the drawing: leave this page open. It goes out by itself when the studio’s computer can be reached.'
      : 'Not sent yet: the drawing is kept on this device and goes out by itself when the studio’s computer can be reached.',
  );
  await networkOrWhile();
  await settle(clientId, of);
}

/** No event tells of a computer that is back on a network that never went. */
const TRY_AGAIN_MS = 3000;
const networkOrWhile = () =>
  new Promise((resolve) => {
    const timer = setTimeout(resolve, TRY_AGAIN_MS);
    window.addEventListener('online', () => resolve(clearTimeout(timer)), { once: true });
  });

const sizes = el('div', 'placement-sizes');
board.after(sizes);
build();
