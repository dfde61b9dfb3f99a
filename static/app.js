// What every page needs and HTML cannot do alone. No page depends on it.
import './reachable.js';

/** Moves the focus to the notice of a refused form, so that it is read out and seen. */
const focusNotice = (root) => root.querySelector?.('[data-focus]')?.focus();

/** The menu stands open as a rail on wide screens. */
const wide = matchMedia('(min-width: 64rem)');
const setMenu = () => {
  for (const menu of document.querySelectorAll('.shape-plain .menu')) menu.open = wide.matches;
};

setMenu();
wide.addEventListener('change', setMenu);
focusNotice(document);
/** A table that scrolls sideways can be reached, and then scrolled, by keyboard. */
const reachTables = () => {
  for (const wrap of document.querySelectorAll('.table-wrap')) {
    if (wrap.scrollWidth > wrap.clientWidth) wrap.tabIndex = 0;
  }
};
reachTables();
addEventListener('load', reachTables);
addEventListener('resize', reachTables);
/** A passphrase can be seen while it is typed: a phone's keyboard is small, and the words are long. */
const letPassphrasesShow = () => {
  for (const input of document.querySelectorAll('input[type=password]:not([data-shows])')) {
    input.dataset.shows = '';
    const button = document.createElement('button');
    button.type = 'button';
    button.className = 'unit';
    button.textContent = 'Show';
    button.setAttribute('aria-pressed', 'false');
    button.setAttribute('aria-controls', input.id);
    button.addEventListener('click', () => {
      const shown = input.type === 'password';
      input.type = shown ? 'text' : 'password';
      button.setAttribute('aria-pressed', String(shown));
      input.focus();
    });
    const both = document.createElement('span');
    both.className = 'with-unit';
    input.before(both);
    both.append(input, button);
  }
};
letPassphrasesShow();
document.addEventListener('htmx:after:swap', () => {
  focusNotice(document);
  reachTables();
  letPassphrasesShow();
});

document.addEventListener('click', (event) => {
  const printer = event.target.closest?.('[data-print]');
  if (printer) print();
  const copier = event.target.closest?.('[data-add-row]');
  if (copier) addRow(copier);
});

/** Repeats the last row of a group of fields named `name.N`, emptied. */
function addRow(button) {
  const rows = document.getElementById(button.dataset.addRow);
  const last = rows?.lastElementChild;
  if (!last) return;
  const next = rows.childElementCount;
  const row = last.cloneNode(true);
  for (const input of row.querySelectorAll('input, select, textarea')) {
    input.name = input.name.replace(/\.\d+$/, `.${next}`);
    input.id = `${input.id.replace(/-\d+$/, '')}-${next}`;
    input.removeAttribute('aria-invalid');
    input.removeAttribute('aria-describedby');
    if (input instanceof HTMLSelectElement) input.selectedIndex = 0;
    else if (input.type !== 'radio' && input.type !== 'checkbox') input.value = '';
  }
  for (const label of row.querySelectorAll('label[for]'))
    label.htmlFor = `${label.htmlFor.replace(/-\d+$/, '')}-${next}`;
  for (const error of row.querySelectorAll('.field-error')) error.remove();
  rows.append(row);
  row.querySelector('input, select')?.focus();
}

const unsentCount = () => {
  try {
    return Number(localStorage.getItem('unsent') ?? 0);
  } catch {
    return 0;
  }
};

/** The device's copies of bench pages are for who is signed in. */
const forgetBenches = async () => {
  if (!('caches' in window)) return;
  for (const name of await caches.keys()) if (name.startsWith('bench-pages')) await caches.delete(name);
};
if (document.body.classList.contains('shape-door')) forgetBenches();
else if (unsentCount() > 0 && !document.getElementById('bench')) {
  // Entries that a bench could not send go out from any page.
  import('./outbox.js').then((outbox) => outbox.flush());
}

document.addEventListener('submit', async (event) => {
  const form = event.target;
  if (new URL(form.action).pathname !== '/sign-out') return;
  event.preventDefault();
  const n = unsentCount();
  const words = `${n} bench ${n === 1 ? 'entry is' : 'entries are'} not yet sent. They stay on this device and go out when you sign in here again. Sign out now?`;
  if (n > 0 && !confirm(words)) return;
  await forgetBenches();
  form.submit();
});
