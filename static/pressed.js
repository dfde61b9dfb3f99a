// What a form says, with the button that was pressed, in every browser that runs the page. The button as second argument of
// FormData is younger than many a studio's tablet (Safari 16.4, Firefox 111, Chrome 112): before, it is passed over without
// a word, and with it which of several buttons was meant. The event's own submitter came with Safari 15.4.

let clicked = null;
// Enter in a field clicks the form's first button, so that a click comes before every submission.
document.addEventListener('click', (event) => (clicked = event.target.closest?.('button, input') ?? null), true);

/** The button by which a form was sent; null when a script sent it. */
export const pressedOf = (event) => {
  if (event.submitter !== undefined) return event.submitter;
  return clicked?.form === event.target && clicked.type === 'submit' ? clicked : null;
};

/** The fields of a form and the pressed button's own. */
export function fieldsOf(form, pressed) {
  const data = new FormData(form);
  if (pressed?.name) data.append(pressed.name, pressed.value);
  return data;
}

/** Sends a form as if its button were pressed; `requestSubmit` came with Safari 16. */
export function submitByScript(form) {
  const button = form.querySelector('button:not([type=button])');
  if (form.requestSubmit) form.requestSubmit();
  else if (button) button.click();
  else form.submit();
}
