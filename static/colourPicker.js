// A plane of hue and chroma to draw on with a finger, over the sliders that hold the values.

/** CIELAB LCh D65/2° → sRGB 0–255, or null outside what a screen shows (CIE 015:2018; IEC 61966-2-1). */
export function srgbOfLch(L, C, hueDeg) {
  const a = C * Math.cos((hueDeg * Math.PI) / 180);
  const b = C * Math.sin((hueDeg * Math.PI) / 180);
  const fy = (L + 16) / 116;
  const cube = (f) => (f > 6 / 29 ? f ** 3 : (3 * (f - 4 / 29) * 36) / 841);
  const x = 0.95045593 * cube(fy + a / 500);
  const y = cube(fy);
  const z = 1.08905775 * cube(fy - b / 200);
  const linear = [
    3.2409699 * x - 1.5373832 * y - 0.4986108 * z,
    -0.9692436 * x + 1.8759675 * y + 0.0415551 * z,
    0.0556301 * x - 0.203977 * y + 1.0569715 * z,
  ];
  if (linear.some((v) => v < -0.0005 || v > 1.0005)) return null;
  return linear.map((v) => {
    const c = Math.min(1, Math.max(0, v));
    return Math.round(255 * (c <= 0.0031308 ? 12.92 * c : 1.055 * c ** (1 / 2.4) - 0.055));
  });
}

const MAX_CHROMA = 110;
// Most chroma that a screen shows at this lightness and hue.
function inRange(L, C, hue) {
  let chroma = C;
  while (chroma > 0 && srgbOfLch(L, chroma, hue) === null) chroma -= 1;
  return { chroma: Math.max(0, chroma), rgb: srgbOfLch(L, Math.max(0, chroma), hue) ?? [0, 0, 0] };
}

for (const form of document.querySelectorAll('[data-picker]')) {
  const plane = form.querySelector('[data-plane]');
  const chip = form.querySelector('[data-chip]');
  const sliders = Object.fromEntries(['lightness', 'chroma', 'hue'].map((n) => [n, form.elements[n]]));
  const context = plane.getContext('2d');
  const value = (name) => Number(sliders[name].value);
  let paintedAt = -1;
  let picture;

  const paint = () => {
    const { width, height } = plane;
    const L = value('lightness');
    if (L !== paintedAt) {
      picture = context.createImageData(width, height);
      const ground = matchMedia('(prefers-color-scheme: dark)').matches ? 63 : 185;
      for (let py = 0; py < height; py++) {
        for (let px = 0; px < width; px++) {
          const rgb = srgbOfLch(L, ((height - 0.5 - py) * MAX_CHROMA) / height, ((px + 0.5) * 360) / width);
          const at = (py * width + px) * 4;
          for (let c = 0; c < 3; c++) picture.data[at + c] = rgb ? rgb[c] : ground;
          picture.data[at + 3] = 255;
        }
      }
      paintedAt = L;
    }
    context.putImageData(picture, 0, 0);
    const x = (value('hue') * width) / 360;
    const y = height - (value('chroma') * height) / MAX_CHROMA;
    for (const [radius, colour] of [
      [4, '#000'],
      [3, '#fff'],
    ]) {
      context.beginPath();
      context.arc(x, Math.max(0, Math.min(height, y)), radius, 0, 7);
      context.strokeStyle = colour;
      context.stroke();
    }
    const { rgb } = inRange(L, value('chroma'), value('hue'));
    chip.setAttribute('fill', `rgb(${rgb.join(',')})`);
    for (const output of form.querySelectorAll('output')) {
      const slider = sliders[output.dataset.of];
      output.textContent = `${slider.value}${slider.dataset.unit}`;
    }
  };

  const drawAt = (event) => {
    const box = plane.getBoundingClientRect();
    const share = (v, size) => Math.min(1, Math.max(0, v / size));
    sliders.hue.value = String(Math.round(share(event.clientX - box.left, box.width) * 359));
    const chroma = (1 - share(event.clientY - box.top, box.height)) * MAX_CHROMA;
    sliders.chroma.value = String(Math.round(inRange(value('lightness'), chroma, value('hue')).chroma));
    paint();
  };
  plane.addEventListener('pointerdown', (event) => {
    plane.setPointerCapture(event.pointerId);
    drawAt(event);
  });
  plane.addEventListener('pointermove', (event) => {
    if (plane.hasPointerCapture(event.pointerId)) drawAt(event);
  });
  form.addEventListener('input', paint);
  plane.hidden = false;
  form.querySelector('.pick-hint').hidden = false;
  paint();
}
