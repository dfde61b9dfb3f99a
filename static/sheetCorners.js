// Rings to drag onto the corner pieces of a sheet of samples, and onto the card's corners; arrow keys move them too.

const NS = 'http://www.w3.org/2000/svg';
const make = (name, attributes) => {
  const node = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  return node;
};

/** The matrix of the plane map that takes the unit square to four corners (Heckbert, Fundamentals of texture mapping, 1989). */
export function squareTo([p0, p1, p2, p3]) {
  const dx1 = p1.x - p2.x;
  const dx2 = p3.x - p2.x;
  const dx3 = p0.x - p1.x + p2.x - p3.x;
  const dy1 = p1.y - p2.y;
  const dy2 = p3.y - p2.y;
  const dy3 = p0.y - p1.y + p2.y - p3.y;
  const d = dx1 * dy2 - dx2 * dy1;
  const g = (dx3 * dy2 - dx2 * dy3) / d;
  const h = (dx1 * dy3 - dx3 * dy1) / d;
  return (u, v) => {
    const w = g * u + h * v + 1;
    return {
      x: ((p1.x - p0.x + g * p1.x) * u + (p3.x - p0.x + h * p3.x) * v + p0.x) / w,
      y: ((p1.y - p0.y + g * p1.y) * u + (p3.y - p0.y + h * p3.y) * v + p0.y) / w,
    };
  };
}

function start(form) {
  const [width, height, columns, count] = form.dataset.sheet.split(' ').map(Number);
  const rows = Math.ceil(count / columns);
  const svg = form.querySelector('[data-handles]');
  const read = (name) => {
    const [x, y] = (form.elements[name]?.value ?? '')
      .trim()
      .split(/[ ,;]+/)
      .map(Number);
    return Number.isFinite(x) && Number.isFinite(y) && form.elements[name].value.trim() !== '' ? { x, y } : null;
  };
  const at = (x, y) => ({ x: x * width, y: y * height });
  const sets = [
    { name: 'grid', words: 'Piece', corners: [at(0.15, 0.12), at(0.85, 0.12), at(0.85, 0.62), at(0.15, 0.62)] },
    { name: 'card', words: 'Card', corners: [at(0.3, 0.74), at(0.7, 0.74), at(0.7, 0.92), at(0.3, 0.92)] },
  ];
  for (const set of sets) set.corners = set.corners.map((c, i) => read(`${set.name}${i}`) ?? c);

  const write = () => {
    for (const { name, corners } of sets) {
      if (name === 'card' && form.elements.cardBy.value !== 'hand') continue;
      corners.forEach((c, i) => {
        form.elements[`${name}${i}`].value = `${c.x.toFixed(1)} ${c.y.toFixed(1)}`;
      });
    }
  };

  const draw = (focused) => {
    svg.replaceChildren();
    for (const set of sets) {
      const isCard = set.name === 'card';
      if (isCard && form.elements.cardBy.value !== 'hand') continue;
      const points = set.corners.map((c) => `${c.x},${c.y}`).join(' ');
      svg.append(
        make('polygon', { class: 'sheet-outline under', points }),
        make('polygon', { class: 'sheet-outline', points }),
      );
      if (!isCard) {
        const place = squareTo(set.corners);
        for (let i = 0; i < count; i++) {
          const u = columns === 1 ? 0.5 : (i % columns) / (columns - 1);
          const v = rows === 1 ? 0.5 : Math.floor(i / columns) / (rows - 1);
          const c = place(u, v);
          svg.append(make('circle', { class: 'sheet-spot', cx: c.x, cy: c.y, r: width / 130 }));
        }
      }
      set.corners.forEach((c, i) => {
        const r = width / 34;
        const handle = isCard
          ? make('rect', { x: c.x - r, y: c.y - r, width: 2 * r, height: 2 * r })
          : make('circle', { cx: c.x, cy: c.y, r });
        handle.setAttribute('class', `sheet-handle${isCard ? ' of-card' : ''}`);
        handle.setAttribute('tabindex', '0');
        handle.setAttribute('role', 'button');
        handle.setAttribute('aria-label', `${set.words}, corner ${i + 1}: drag it, or move it by arrow keys`);
        handle.dataset.corner = `${set.name} ${i}`;
        const number = make('text', {
          class: 'sheet-number',
          x: c.x,
          y: c.y + r / 3,
          'text-anchor': 'middle',
          'font-size': r,
        });
        number.textContent = String(i + 1);
        svg.append(handle, number);
        if (focused === handle.dataset.corner) handle.focus();
      });
    }
    write();
  };

  const cornerOf = (target) => {
    const [name, i] = (target.dataset?.corner ?? '').split(' ');
    const set = sets.find((s) => s.name === name);
    return set ? { set, i: Number(i), key: target.dataset.corner } : null;
  };
  const move = (corner, x, y) => {
    corner.set.corners[corner.i] = { x: Math.min(width, Math.max(0, x)), y: Math.min(height, Math.max(0, y)) };
    draw(corner.key);
  };
  let dragged = null;
  svg.addEventListener('pointerdown', (event) => {
    dragged = cornerOf(event.target);
    if (!dragged) return;
    event.preventDefault();
    svg.setPointerCapture(event.pointerId);
  });
  svg.addEventListener('pointermove', (event) => {
    if (!dragged) return;
    const box = svg.getBoundingClientRect();
    move(dragged, ((event.clientX - box.left) / box.width) * width, ((event.clientY - box.top) / box.height) * height);
  });
  for (const name of ['pointerup', 'pointercancel']) {
    svg.addEventListener(name, () => {
      dragged = null;
    });
  }
  svg.addEventListener('keydown', (event) => {
    const corner = cornerOf(event.target);
    const step = (event.shiftKey ? 1 : 10) * (width / 1600);
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
    if (!corner || !by) return;
    event.preventDefault();
    const c = corner.set.corners[corner.i];
    move(corner, c.x + by[0], c.y + by[1]);
  });
  form.addEventListener('change', (event) => {
    if (/^(grid|card)\d$/.test(event.target.name)) {
      const set = sets.find((s) => s.name === event.target.name.slice(0, 4));
      const c = read(event.target.name);
      if (c) set.corners[Number(event.target.name.slice(4))] = c;
    }
    if (event.target.name === 'cardBy' || /^(grid|card)\d$/.test(event.target.name)) draw();
  });
  draw();
}

for (const form of document.querySelectorAll('[data-sheet]')) start(form);
