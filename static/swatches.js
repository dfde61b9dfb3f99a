// The wall's further filters stand open where there is room for them.
const wide = matchMedia('(min-width: 64rem)');
const setFilters = () => {
  for (const filters of document.querySelectorAll('.wall-more-filters')) filters.open = wide.matches;
};

setFilters();
wide.addEventListener('change', setFilters);
