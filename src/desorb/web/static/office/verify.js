// What a verification found, as words. Shared by the page of a case and by the page of the store.
import { callApi } from "/static/office.js";

export async function verify(caseId, heads = []) {
  const query = new URLSearchParams(heads.map((head) => ["head", head]));
  return callApi("GET", `/api/cases/${encodeURIComponent(caseId)}/verification${heads.length ? `?${query}` : ""}`);
}

function line(words, kind) {
  const item = document.createElement("li");
  item.textContent = words;
  if (kind) item.className = kind;
  return item;
}

export function inWords(found) {
  const counts = Object.entries(found.counts).map(([name, number]) => `${number} ${name}`).join(", ");
  const ok = found.faults.length === 0;
  return ok ? `no fault was found (${counts})` : `it does not verify: ${found.faults.length} faults (${counts})`;
}

export function details(found) {
  const list = document.createElement("ul");
  for (const fault of found.faults) list.append(line(`Fault: ${fault}`, "said-problem"));
  for (const each of found.anchored) {
    const after = each.evidence_after ? `${each.evidence_after} entries with evidence came after it` : "nothing with evidence after it";
    list.append(line(`The head ${each.head.slice(0, 16)} stands at ${each.device}/${each.n}; ${after}.`));
  }
  for (const [device, [n, hash]] of Object.entries(found.heads)) list.append(line(`Head of device ${device}: number ${n}, ${hash}`));
  for (const note of found.notes) list.append(line(`Note: ${note}`));
  return list;
}
