// Pointing at a photo: corners of the card and places on the goods, by finger, mouse or keyboard. What is pointed at goes to
// the server as shares of the photo's width and height; the server reads it and answers with the result.

import { submitByScript } from './pressed.js';

const MAX_SPOTS = 12;
const CORNER_TAGS = ['1', '2', '3', '4'];
const clamp = (v) => Math.min(1, Math.max(0, v));
const pointsOf = (text) =>
  (text ?? '')
    .split(';')
    .filter(Boolean)
    .map((pair) => {
      const [x, y] = pair.split(',').map(Number);
      return { x, y };
    });
const textOf = (points) => points.map((p) => `${p.x.toFixed(5)},${p.y.toFixed(5)}`).join(';');

for (const form of document.querySelectorAll('[data-photo-start]')) startForm(form);
for (const root of document.querySelectorAll('[data-photo-reading]')) readPhoto(root);

/** A photo that was taken, chosen or dropped is sent at once. */
function startForm(form) {
  const drop = form.querySelector('[data-drop]');
  const sending = form.querySelector('[data-sending]');
  const inputs = [...form.querySelectorAll('input[type="file"]')];
  const send = (chosen) => {
    for (const input of inputs) if (input !== chosen) input.value = '';
    sending.textContent = 'Sending the photo…';
    submitByScript(form);
  };
  for (const input of inputs) input.addEventListener('change', () => input.files.length > 0 && send(input));
  // A photo that was chosen before this script was here (a slow line, a busy device) goes out now.
  // Not one that the browser has put back into a page that is shown again.
  const [{ type }] = performance.getEntriesByType('navigation');
  const early = type === 'navigate' && inputs.find((input) => input.files.length > 0);
  if (early) send(early);
  const over = (on) => drop.classList.toggle('over', on);
  drop.addEventListener('dragover', (event) => {
    event.preventDefault();
    over(true);
  });
  drop.addEventListener('dragleave', () => over(false));
  drop.addEventListener('drop', (event) => {
    event.preventDefault();
    over(false);
    const last = inputs.at(-1);
    if (event.dataTransfer.files.length === 0) return;
    last.files = event.dataTransfer.files;
    send(last);
  });
  // A page shown again from the browser's memory is not sending any more.
  addEventListener('pageshow', (event) => {
    if (event.persisted) sending.textContent = '';
  });
}

function readPhoto(root) {
  const shot = root.querySelector('[data-shot]');
  const photo = root.querySelector('[data-photo]');
  const overlay = root.querySelector('[data-overlay]');
  const say = root.querySelector('[data-say]');
  const bandsField = root.querySelector('[data-bands]');
  const bands = bandsField.querySelector('select');
  const [width, height] = overlay.getAttribute('viewBox').split(' ').slice(2).map(Number);
  const names = root.dataset.cornerNames.split('|');
  const plain = root.dataset.plain === 'yes';
  const address = new URL(root.dataset.result, location.href);

  /** `moved`: corners that a person put; else those that the server found are only shown. */
  const asked = address.searchParams;
  const state = {
    corners: pointsOf(asked.get('corners')),
    moved: asked.has('corners'),
    spots: pointsOf(asked.get('spots')),
    area: pointsOf(asked.get('area')),
    patches: [],
    off: [],
  };
  bands.value = asked.get('bands') ?? 'none';
  if (state.corners.length !== 4) state.corners = usualCorners();

  function usualCorners() {
    // A card in the middle, lying as the photo lies; of a plain card a small square.
    const columns = Number(root.dataset.columns);
    const rows = Number(root.dataset.rows);
    const halfW = plain ? 0.12 * Math.min(1, height / width) : 0.3;
    const tall = ((halfW * width) / Math.max(1, columns - 1)) * Math.max(1, rows - 1);
    const halfH = plain ? (halfW * width) / height : Math.min(0.4, tall / height);
    return [
      { x: 0.5 - halfW, y: 0.5 - halfH },
      { x: 0.5 + halfW, y: 0.5 - halfH },
      { x: 0.5 + halfW, y: 0.5 + halfH },
      { x: 0.5 - halfW, y: 0.5 + halfH },
    ];
  }

  // ── reading ──
  let running;
  let later;
  const queryNow = () => {
    const query = new URLSearchParams(
      [...asked].filter(([name]) => !['corners', 'spots', 'area', 'bands'].includes(name)),
    );
    if (state.moved || plain) query.set('corners', textOf(state.corners));
    if (state.spots.length > 0) query.set('spots', textOf(state.spots));
    if (state.area.length > 0) query.set('area', textOf(state.area));
    if (state.area.length > 0 && bands.value !== 'none') query.set('bands', bands.value);
    return query;
  };

  async function read() {
    clearTimeout(later);
    running?.abort();
    const own = new AbortController();
    running = own;
    const result = root.querySelector('#photo-result');
    result.classList.add('busy-read');
    say.textContent = 'Reading the photo…';
    const query = queryNow();
    history.replaceState(null, '', `${address.pathname.replace(/\/result$/, '')}?${query}`);
    try {
      const answer = await fetch(`${address.pathname}?${query}`, {
        headers: { 'hx-request': 'true', 'hx-request-type': 'partial' },
        signal: own.signal,
      });
      show(await answer.text());
    } catch (error) {
      if (own.signal.aborted) return;
      result.classList.remove('busy-read');
      say.textContent = 'The studio’s computer was not reached. Try again.';
      throw error;
    }
  }
  const readSoon = () => {
    clearTimeout(later);
    later = setTimeout(read, 350);
  };

  function show(markup) {
    const old = root.querySelector('#photo-result');
    const made = new DOMParser().parseFromString(markup, 'text/html').body;
    const whole = made.querySelector('#photo-result');
    const next = document.createElement('div');
    next.append(...(whole ? [whole] : made.childNodes));
    const result = whole ?? next;
    result.id = 'photo-result';
    old.replaceWith(document.adoptNode(result));
    take(result);
  }

  /** Takes over what the server says of the places. */
  function take(result) {
    const { outcome, corners, patches, off } = result.dataset;
    say.textContent = result.dataset.say ?? 'That could not be read.';
    state.patches = pointsOf(patches);
    state.off = (off ?? '').split(',').map(Number);
    if (outcome === 'read') {
      state.corners = pointsOf(corners);
      if (mode() === 'corners' && !touched) setMode('spot');
    } else if (outcome === 'cornersNeeded') {
      setMode('corners');
    }
    draw();
  }

  // ── drawing ──
  let touched = false;
  const mode = () => shot.dataset.mode;
  function setMode(to) {
    shot.dataset.mode = to;
    for (const radio of root.querySelectorAll('input[name="mode"]')) radio.checked = radio.value === to;
    bandsField.hidden = to !== 'area' && state.area.length === 0;
  }

  const svg = (name, attributes) => {
    const element = document.createElementNS('http://www.w3.org/2000/svg', name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
  };
  const path = (points) => points.map((p) => `${(p.x * width).toFixed(1)},${(p.y * height).toFixed(1)}`).join(' ');

  function draw() {
    overlay.replaceChildren();
    if (mode() === 'corners' || state.patches.length > 0) {
      overlay.append(svg('polygon', { class: 'shot-line', points: path(state.corners) }));
    }
    state.patches.forEach((p, i) => {
      overlay.append(
        svg('circle', {
          class: state.off[i] ? 'shot-patch off' : 'shot-patch',
          cx: p.x * width,
          cy: p.y * height,
          r: width / 220,
        }),
      );
    });
    if (state.area.length > 1) overlay.append(svg('polygon', { class: 'shot-line', points: path(state.area) }));
    const r = 0.018 * Math.max(width, height);
    for (const p of state.spots) {
      overlay.append(svg('circle', { class: 'shot-line', cx: p.x * width, cy: p.y * height, r }));
    }
    placeHandles();
  }

  function placeHandles() {
    state.corners.forEach((p, i) => {
      placeHandle('corner', i, p, CORNER_TAGS[i], `Corner ${i + 1} of the card: ${names[i]}`);
    });
    state.spots.forEach((p, i) => {
      placeHandle('spot', i, p, String(i + 1), `Spot ${i + 1} on the goods`);
    });
  }

  function placeHandle(kind, index, at, tag, label) {
    const id = `${kind}-${index}`;
    let element = document.getElementById(id);
    if (!element) {
      element = document.createElement('button');
      element.id = id;
      element.type = 'button';
      element.className = `handle ${kind}`;
      shot.append(element);
      listen(element, kind, index);
    }
    element.textContent = kind === 'spot' ? tag : '';
    element.setAttribute('aria-label', `${label}. Arrow keys move it.`);
    element.style.left = `${at.x * 100}%`;
    element.style.top = `${at.y * 100}%`;
  }

  /** Drops the buttons of spots that are gone. */
  function dropSurplus() {
    for (const element of shot.querySelectorAll('.handle.spot')) {
      if (Number(element.id.split('-')[1]) >= state.spots.length) element.remove();
    }
  }

  const listOf = (kind) => (kind === 'corner' ? state.corners : state.spots);
  function moveTo(kind, index, p) {
    listOf(kind)[index] = { x: clamp(p.x), y: clamp(p.y) };
    if (kind === 'corner') {
      state.moved = true;
      touched = true;
      state.patches = [];
    }
    draw();
  }

  function listen(element, kind, index) {
    let grip;
    element.addEventListener('pointerdown', (event) => {
      event.preventDefault();
      element.focus({ preventScroll: true });
      element.setPointerCapture(event.pointerId);
      const at = placeOf(event);
      const now = listOf(kind)[index];
      // What was grasped beside its middle stays where it is until it is moved.
      grip = { dx: now.x - at.x, dy: now.y - at.y, moved: false };
      lookClosely(now);
    });
    element.addEventListener('pointermove', (event) => {
      if (!grip || !element.hasPointerCapture(event.pointerId)) return;
      const at = placeOf(event);
      grip.moved = true;
      moveTo(kind, index, { x: at.x + grip.dx, y: at.y + grip.dy });
      lookClosely(listOf(kind)[index]);
    });
    const end = () => {
      loupe.hidden = true;
      if (grip?.moved) read();
      grip = undefined;
    };
    element.addEventListener('pointerup', end);
    element.addEventListener('pointercancel', end);
    element.addEventListener('keydown', (event) => {
      const step = event.shiftKey ? 0.02 : 0.002;
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (way) {
        event.preventDefault();
        const p = listOf(kind)[index];
        moveTo(kind, index, { x: p.x + way[0] * step, y: p.y + way[1] * step });
        readSoon();
      } else if (kind === 'spot' && (event.key === 'Delete' || event.key === 'Backspace')) {
        event.preventDefault();
        dropSpot(index);
      }
    });
    element.addEventListener('click', (event) => event.stopPropagation());
  }

  // ── the loupe: a finger hides what it points at ──
  const loupe = document.createElement('canvas');
  loupe.className = 'loupe';
  loupe.width = 232;
  loupe.height = 232;
  loupe.hidden = true;
  shot.append(loupe);
  function lookClosely(p) {
    const context = loupe.getContext('2d');
    const size = loupe.width;
    const seen = Math.min(photo.naturalWidth, photo.naturalHeight) / 6;
    context.fillStyle = '#888';
    context.fillRect(0, 0, size, size);
    context.drawImage(
      photo,
      p.x * photo.naturalWidth - seen / 2,
      p.y * photo.naturalHeight - seen / 2,
      seen,
      seen,
      0,
      0,
      size,
      size,
    );
    for (const [colour, line] of [
      ['#000', 6],
      ['#fff', 2],
    ]) {
      context.strokeStyle = colour;
      context.lineWidth = line;
      context.beginPath();
      context.moveTo(size / 2 - 26, size / 2);
      context.lineTo(size / 2 + 26, size / 2);
      context.moveTo(size / 2, size / 2 - 26);
      context.lineTo(size / 2, size / 2 + 26);
      context.stroke();
    }
    loupe.classList.toggle('at-left', p.x > 0.5);
    loupe.classList.toggle('at-right', p.x <= 0.5);
    loupe.hidden = false;
  }

  // ── pointing at the goods ──
  const placeOf = (event) => {
    const box = photo.getBoundingClientRect();
    return { x: clamp((event.clientX - box.left) / box.width), y: clamp((event.clientY - box.top) / box.height) };
  };
  function addSpot(p) {
    if (state.spots.length >= MAX_SPOTS) {
      say.textContent = `${MAX_SPOTS} spots are enough. Take one out first.`;
      return;
    }
    state.area = [];
    state.spots.push(p);
    setMode('spot');
    draw();
    read();
  }
  function dropSpot(index) {
    state.spots.splice(index, 1);
    dropSurplus();
    draw();
    root.querySelector('[data-add-spot]').focus();
    read();
  }
  shot.addEventListener('click', (event) => {
    if (mode() === 'spot') addSpot(placeOf(event));
  });

  let outline;
  shot.addEventListener('pointerdown', (event) => {
    if (mode() !== 'area') return;
    event.preventDefault();
    shot.setPointerCapture(event.pointerId);
    outline = [placeOf(event)];
  });
  shot.addEventListener('pointermove', (event) => {
    if (!outline) return;
    const p = placeOf(event);
    const last = outline.at(-1);
    if (Math.hypot((p.x - last.x) * width, (p.y - last.y) * height) < Math.max(width, height) / 120) return;
    outline.push(p);
    state.area = outline;
    draw();
  });
  const closeOutline = () => {
    if (!outline) return;
    const drawn = outline;
    outline = undefined;
    if (drawn.length < 3) {
      say.textContent = 'Draw a line round the goods.';
      state.area = [];
      draw();
      return;
    }
    // Three hundred points draw any area; a slow finger makes more.
    const every = Math.ceil(drawn.length / 300);
    state.area = drawn.filter((_, i) => i % every === 0);
    state.spots = [];
    dropSurplus();
    bandsField.hidden = false;
    draw();
    read();
  };
  shot.addEventListener('pointerup', closeOutline);
  shot.addEventListener('pointercancel', closeOutline);

  // ── the controls ──
  root.addEventListener('change', (event) => {
    if (event.target.name === 'mode') {
      touched = event.target.value === 'corners';
      setMode(event.target.value);
      draw();
    }
    if (event.target === bands && state.area.length > 0) read();
  });
  root.addEventListener('click', (event) => {
    const drop = event.target.closest('[data-drop-spot]');
    if (drop) dropSpot(Number(drop.dataset.dropSpot));
    if (event.target.closest('[data-add-spot]')) {
      addSpot({ x: 0.5, y: 0.5 });
      document.getElementById(`spot-${state.spots.length - 1}`)?.focus();
    }
    if (event.target.closest('[data-clear]')) {
      state.spots = [];
      state.area = [];
      if (mode() === 'corners') {
        state.moved = false;
        touched = false;
      }
      dropSurplus();
      setMode(mode());
      draw();
      if (!plain || state.moved) read();
    }
  });

  setMode(state.area.length > 0 ? 'area' : mode());
  draw();
  const there = root.querySelector('#photo-result');
  if (there.dataset.outcome !== 'waiting') take(there);
  else if (plain && !state.moved) {
    say.textContent = 'Drag the four rings into the corners of the grey card, within its even area.';
    there.replaceChildren();
  } else read();
}
