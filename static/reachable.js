// A form is sent when the studio's computer answers, and stays as it is when it does not: the browser's own page for a
// network that failed takes what was typed with it, and pages of the studio are not stored to come back to.
import { answers } from './line.js';
import { pressedOf } from './pressed.js';

const ASK_MS = 4000;
const asking = new WeakSet();

function sayUnreached(form, pressed) {
  form.querySelector('.not-reached')?.remove();
  const words = document.createElement('p');
  words.className = 'notice bad not-reached';
  words.tabIndex = -1;
  words.setAttribute('role', 'alert');
  words.textContent =
    'Not sent: the studio’s computer cannot be reached. What you have put in stands here; send it again when there is a connection.';
  const beside = pressed?.isConnected && form.contains(pressed) ? pressed : null;
  if (beside) beside.before(words);
  else form.append(words);
  words.scrollIntoView({ block: 'nearest' });
}

/** Sends it as the browser would have, with the pressed button's value. */
function send(form, pressed) {
  const own = document.createElement('input');
  own.type = 'hidden';
  if (pressed?.name) {
    own.name = pressed.name;
    own.value = pressed.value;
    form.append(own);
  }
  // The form's own way, which a field called “submit” would hide.
  HTMLFormElement.prototype.submit.call(form);
  own.remove();
}

// On the window, after everybody who sends a form in a way of their own.
addEventListener('submit', async (event) => {
  const form = event.target;
  const pressed = pressedOf(event);
  const asPost = form.getAttribute('method')?.toLowerCase() === 'post' && !form.hasAttribute('target');
  if (event.defaultPrevented || !asPost || pressed?.hasAttribute('formaction')) return;
  event.preventDefault();
  if (asking.has(form)) return;
  asking.add(form);
  const there = await answers(ASK_MS);
  asking.delete(form);
  if (!there) return sayUnreached(form, pressed);
  form.querySelector('.not-reached')?.remove();
  send(form, pressed);
});
