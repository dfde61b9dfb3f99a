// Brings what is on the page to what the server says, without touching what somebody is in the middle of: a form with
// half-typed input, the focus, an opened detail.

const TYPED = 'input:not([type=hidden]), textarea, select';
const sentForms = new WeakSet();

/** After a form was sent, what stands in it is no longer half-typed; until it is touched again. */
export const markSent = (form) => sentForms.add(form);
document.addEventListener('input', (event) => sentForms.delete(event.target.form), true);
document.addEventListener('focusin', (event) => sentForms.delete(event.target.form), true);

const touched = (field) => {
  if (field.type === 'file') return field.files.length > 0;
  if (field.type === 'checkbox' || field.type === 'radio') return field.checked !== field.defaultChecked;
  if (!(field instanceof HTMLSelectElement)) return field.value !== field.defaultValue;
  const chosen = [...field.options].findIndex((o) => o.defaultSelected);
  return field.options.length > 0 && field.selectedIndex !== Math.max(0, chosen);
};

/** Whether somebody is typing into a form, or has left something typed in it. */
export const isHeld = (form) =>
  !sentForms.has(form) &&
  [...form.querySelectorAll(TYPED)].some((field) => field === document.activeElement || touched(field));

const heldWithin = (node) =>
  node instanceof HTMLElement &&
  (node instanceof HTMLFormElement ? isHeld(node) : [...node.querySelectorAll('form')].some(isHeld));

const keyOf = (node) => (node instanceof Element ? node.id || node.dataset.key || '' : '');

/** What the page itself has put on a node: an opened detail, and what holds the focus. */
const ownOf = (node, name) =>
  name === 'open' ? node.nodeName === 'DETAILS' : name === 'tabindex' && node === document.activeElement;

/** Makes `have` like `want`, node by node, keeping the nodes that stay. */
export function swap(have, want) {
  if (have instanceof HTMLFormElement && isHeld(have)) return;
  if (have.nodeType !== Node.ELEMENT_NODE) {
    if (have.nodeValue !== want.nodeValue) have.nodeValue = want.nodeValue;
    return;
  }
  for (const { name, value } of want.attributes) if (have.getAttribute(name) !== value) have.setAttribute(name, value);
  for (const { name } of [...have.attributes])
    if (!want.hasAttribute(name) && !ownOf(have, name)) have.removeAttribute(name);
  swapChildren(have, want);
  if (have instanceof HTMLInputElement && have.type !== 'file') {
    const value = want.getAttribute('value') ?? '';
    if (have.value !== value && have.type !== 'checkbox' && have.type !== 'radio') have.value = value;
  }
  if (have instanceof HTMLInputElement && (have.type === 'checkbox' || have.type === 'radio'))
    have.checked = want.hasAttribute('checked');
  if (have instanceof HTMLInputElement && have.type === 'file' && have.files.length > 0) have.value = '';
  if (have instanceof HTMLTextAreaElement) have.value = want.textContent;
  if (have instanceof HTMLSelectElement) have.value = want.value;
}

function swapChildren(have, want) {
  const keyed = new Map();
  for (const child of have.children) if (keyOf(child)) keyed.set(keyOf(child), child);
  const wanted = new Set([...want.children].map(keyOf).filter(Boolean));
  let at = have.firstChild;
  // What goes, goes first, so that what stays need not be moved: moving a node takes the focus off it.
  const clear = () => {
    while (at && keyOf(at) && !wanted.has(keyOf(at))) {
      const next = at.nextSibling;
      if (!heldWithin(at)) at.remove();
      at = next;
    }
  };
  for (const child of [...want.childNodes]) {
    clear();
    const key = keyOf(child);
    let found = key ? keyed.get(key) : at;
    while (!key && found && (keyOf(found) || found.nodeName !== child.nodeName)) found = found.nextSibling;
    if (!found || found.nodeName !== child.nodeName) {
      have.insertBefore(document.importNode(child, true), at);
    } else {
      if (found === at) at = at.nextSibling;
      else have.insertBefore(found, at);
      swap(found, child);
    }
  }
  while (at) {
    const next = at.nextSibling;
    if (!heldWithin(at)) at.remove();
    at = next;
  }
}
