// Moving and taking out rows of a repeated group. Without this script a row is taken out by emptying it.

const FIELDS = 'input, select, textarea';

/** Numbers the rows of a list again, in the order in which they stand. */
function renumber(list) {
  [...list.children].forEach((row, n) => {
    for (const input of row.querySelectorAll(FIELDS)) {
      input.name = input.name.replace(/\.\d+$/, `.${n}`);
      const id = input.id.replace(/-\d+$/, `-${n}`);
      row.querySelector(`label[for="${CSS.escape(input.id)}"]`)?.setAttribute('for', id);
      const error = row.querySelector(`#${CSS.escape(input.id)}-error`);
      if (error) {
        error.id = `${id}-error`;
        input.setAttribute('aria-describedby', error.id);
      }
      input.id = id;
    }
    for (const button of row.querySelectorAll('[data-row-act]')) {
      button.setAttribute('aria-label', `${button.title}, row ${n + 1}`);
    }
  });
}

const ACTS = [
  ['up', '↑', 'Move up'],
  ['down', '↓', 'Move down'],
  ['out', '✕', 'Take out'],
];

function addTools(row) {
  if (row.querySelector('.row-tools')) return;
  const tools = document.createElement('div');
  tools.className = 'row-tools';
  for (const [act, sign, title] of ACTS) {
    const button = document.createElement('button');
    Object.assign(button, { type: 'button', textContent: sign, title, className: 'quiet' });
    button.dataset.rowAct = act;
    tools.append(button);
  }
  row.append(tools);
}

for (const list of document.querySelectorAll('[data-rows]')) {
  for (const row of list.children) addTools(row);
  renumber(list);
  new MutationObserver(() => {
    for (const row of list.children) addTools(row);
    renumber(list);
  }).observe(list, { childList: true });
}

document.addEventListener('click', (event) => {
  const button = event.target.closest?.('[data-row-act]');
  const row = button?.closest('[data-rows] > *');
  if (!row) return;
  const act = button.dataset.rowAct;
  if (act === 'up') row.previousElementSibling?.before(row);
  if (act === 'down') row.nextElementSibling?.after(row);
  if (act === 'out') {
    if (row.parentElement.childElementCount > 1) {
      const next = row.nextElementSibling ?? row.previousElementSibling;
      row.remove();
      next.querySelector(FIELDS)?.focus();
    } else {
      for (const input of row.querySelectorAll(FIELDS)) {
        if (input instanceof HTMLSelectElement) input.selectedIndex = 0;
        else input.value = '';
      }
    }
  } else button.focus();
  row.closest('form')?.dispatchEvent(new Event('input', { bubbles: true }));
});
