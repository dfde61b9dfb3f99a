// A scale that types: readings come as keys, one after the other, with Enter behind each. Where they go must not depend on
// somebody's finger: after a reading the next one's field has the focus, and digits that would go nowhere go there too.

/** Whether the last deed came from something that types or points without a finger on the glass: a finger is not shown a
 *  keyboard on the screen. */
let byKeys = false;
document.addEventListener('keydown', () => (byKeys = true), true);
document.addEventListener('pointerdown', (event) => (byKeys = event.pointerType === 'mouse'), true);

let goesOn = false;
/** Called with the form of every entry: whether the next reading's field takes the focus when it is on the screen. */
export const typesOn = (form) => {
  goesOn = byKeys && form.closest('.bench-weigh') !== null;
};

/** Gives the focus to the reading of the line on the screen, or to the question that stands in its place; unless somebody
 *  has gone on to another field meanwhile. */
export function goOnTyping(panel) {
  if (!goesOn || !panel) return;
  const at = document.activeElement;
  if (at && at !== document.body && !at.matches('.weigh-form *')) return;
  const field = panel.querySelector('.weigh-form input[data-keypad]');
  if (field) field.focus({ preventScroll: true });
  else {
    // Not a button: the Enter of a scale would press it.
    panel.tabIndex = -1;
    panel.focus({ preventScroll: true });
  }
}

const WRITTEN_IN = 'input:not([type=radio], [type=checkbox], [type=button], [type=submit]), textarea, select, audio';
/** Keys of a scale come quicker than anybody types. */
const ONE_READING_MS = 1500;
let stray = { keys: '', at: 0 };

const said = document.createElement('p');
said.className = 'notice warn stray-reading';
said.setAttribute('role', 'status');
said.hidden = true;

function sayStray(keys) {
  said.textContent = `“${keys}” was not taken down: there is nothing to weigh on the screen. Answer the question or choose a line first, then weigh or type it again.`;
  said.hidden = false;
  document.getElementById('bench').before(said);
  said.scrollIntoView({ block: 'nearest' });
}
document.addEventListener('submit', () => (said.hidden = true));

document.addEventListener('keydown', (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  if (event.target.closest?.(WRITTEN_IN)) return;
  const elapsed = event.timeStamp - stray.at;
  if (event.key === 'Enter' && stray.keys !== '' && elapsed < ONE_READING_MS) {
    // It ends a reading; it does not press what happens to have the focus.
    event.preventDefault();
    sayStray(stray.keys);
    stray = { keys: '', at: 0 };
    return;
  }
  if (!/^[\d.,]$/.test(event.key)) return;
  const field = document.querySelector('#bench .now-weigh .weigh-form input[data-keypad]');
  // The key that moves the focus is written where the focus then is.
  if (field) field.focus({ preventScroll: true });
  else stray = { keys: elapsed < ONE_READING_MS ? stray.keys + event.key : event.key, at: event.timeStamp };
});
