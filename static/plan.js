// The plan form: a shade of late comes in with one tap, and a recipe brings its own depth until somebody says another.

const form = document.querySelector('form.plan');
const rows = document.getElementById('colour-rows');
const depths = JSON.parse(form.dataset.depths);

const tell = (input) => {
  for (const kind of ['input', 'change']) input.dispatchEvent(new Event(kind, { bubbles: true }));
};

/** The recipe's depth, unless the field holds one that somebody typed. */
function depthOf(row) {
  const depth = row.querySelector('input[name^="depth."]');
  const own = depths[row.querySelector('select[name^="revisionId."]').value];
  if (own === undefined || (depth.value !== '' && depth.value !== depth.dataset.own)) return;
  depth.value = own;
  depth.dataset.own = own;
}

document.addEventListener('change', (event) => {
  if (!event.isTrusted || !event.target.matches?.('select[name^="revisionId."]')) return;
  const row = event.target.closest('.colour-row');
  depthOf(row);
  tell(row.querySelector('input[name^="depth."]'));
});

document.addEventListener('click', (event) => {
  const shade = event.target.closest?.('[data-shade]');
  if (!shade) return;
  const empty = () => [...rows.children].find((row) => row.querySelector('select').value === '');
  if (!empty()) document.querySelector('[data-add-row="colour-rows"]').click();
  const row = empty();
  const select = row?.querySelector('select');
  if (!select) return;
  select.value = shade.dataset.shade;
  // A row copied from another holds that one's swatch, which says another recipe.
  const swatch = row.querySelector('input[name^="swatchId."]');
  if (swatch) swatch.value = '';
  depthOf(row);
  tell(select);
  shade.focus({ preventScroll: true });
});
