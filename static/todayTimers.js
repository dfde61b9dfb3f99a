// The Today page's running timers. The server renders the same numbers; its clock counts, not this device's.
const pad = (n) => String(n).padStart(2, '0');
const countdown = (seconds) => {
  const s = Math.floor(Math.abs(seconds));
  const [h, m] = [Math.floor(s / 3600), Math.floor((s % 3600) / 60)];
  const clock = h > 0 ? `${h}:${pad(m)}:${pad(s % 60)}` : `${m}:${pad(s % 60)}`;
  return seconds < 0 ? `over by ${clock}` : clock;
};
const openedAt = performance.now();
const tick = () => {
  for (const timer of document.querySelectorAll('.timer[data-ends-at]')) {
    if (!timer.dataset.endsAt || !timer.firstElementChild) continue;
    const left = (Number(timer.dataset.endsAt) - Number(timer.dataset.now) - (performance.now() - openedAt)) / 1000;
    timer.firstElementChild.textContent = countdown(left);
    timer.classList.toggle('overdue', left < 0);
  }
};
tick();
setInterval(tick, 1000);
