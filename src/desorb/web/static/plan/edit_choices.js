// Lists of choices on the page of the plan.

// Fill a list of choices, keeping what was chosen when it is still there.
export function fillChoices(select, choices, keep = 1) {
  const chosen = select.value;
  select.replaceChildren(...[...select.options].slice(0, keep), ...choices.map(([value, words]) => new Option(words, value)));
  select.value = [...select.options].some((option) => option.value === chosen) ? chosen : (select.options[0]?.value ?? "");
}

export function named(records) {
  return records.map((each) => [each.id, each.words ? `${each.id}: ${each.words}` : each.id]);
}
