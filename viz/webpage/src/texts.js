// Texts that stand in the page beside the findings.

/** Why the linkage does not go on, from what bars it (src/tables.js). */
export function barredWords({ locked, near, members }) {
  if (!locked) return 'Not shown: the linkage moves on this way, but the tables of this page do not follow it closely enough there.';
  const who = members.length ? ` (${members.join(' and ')} run${members.length > 1 ? '' : 's'} straight)` : '';
  if (near) return `Almost locked: the linkage goes on this way only a little, which is not shown${who}.`;
  return `Locked: the linkage goes no further this way${who}.`;
}

/** Of texts that stand in the page in both units, shows those in the person's. */
export function inUnits(units) {
  for (const text of document.querySelectorAll('[data-units]')) text.hidden = text.dataset.units !== units;
}

/** A button that shows the rest of a list of rows, or hides it. */
export function more(button) {
  const rest = button.previousElementSibling.querySelectorAll('.rest'), words = button.textContent;
  button.addEventListener('click', () => {
    const all = button.getAttribute('aria-expanded') !== 'true';
    rest.forEach((row) => { row.hidden = !all; });
    button.setAttribute('aria-expanded', String(all));
    button.textContent = all ? 'Show fewer' : words;
  });
}
