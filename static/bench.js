// The bench: running timers and the large keypad. The page works without it; the server renders the same numbers.

const pad = (n) => String(n).padStart(2, '0');
const countdown = (seconds) => {
  const s = Math.floor(Math.abs(seconds));
  const clock =
    s >= 3600
      ? `${Math.floor(s / 3600)}:${pad(Math.floor((s % 3600) / 60))}:${pad(s % 60)}`
      : `${Math.floor(s / 60)}:${pad(s % 60)}`;
  return seconds < 0 ? `over by ${clock}` : clock;
};

/** The server's clock counts, not the phone's: the page carries the server's now, and we add what has passed since. */
const readAt = new WeakMap();

const tick = () => {
  for (const timer of document.querySelectorAll('.timer[data-ends-at]')) {
    if (!timer.dataset.endsAt) continue;
    if (!readAt.has(timer)) readAt.set(timer, performance.now());
    const now = Number(timer.dataset.now) + (performance.now() - readAt.get(timer));
    const left = (Number(timer.dataset.endsAt) - now) / 1000;
    const text = countdown(left);
    const shown = timer.firstElementChild;
    if (shown && shown.textContent !== text) shown.textContent = text;
    timer.classList.toggle('overdue', left < 0);
  }
};
tick();
setInterval(tick, 500);

const KEYS = ['7', '8', '9', '4', '5', '6', '1', '2', '3', '.', '0', '⌫'];

/** Puts a keypad under the reading: big keys for gloved hands, the field itself stays typable. */
const addKeypad = () => {
  for (const input of document.querySelectorAll('input[data-keypad]')) {
    const row = input.closest('.reading-row');
    if (!row || row.nextElementSibling?.classList.contains('keypad')) continue;
    const pad = document.createElement('div');
    pad.className = 'keypad';
    for (const key of KEYS) {
      const button = document.createElement('button');
      button.type = 'button';
      button.textContent = key;
      if (key === '⌫') button.setAttribute('aria-label', 'Delete the last digit');
      button.addEventListener('click', () => {
        input.value = key === '⌫' ? input.value.slice(0, -1) : input.value + key;
      });
      pad.append(button);
    }
    row.after(pad);
  }
};
addKeypad();
document.addEventListener('htmx:after:swap', () => {
  addKeypad();
  tick();
});
