// Who is paired, below what is set for this screen: what this one may do, sending one
// away, and erasing all that is kept.

import { pair as words } from "./device-words";
import { button, el, setText } from "./dom";
import { onStanding, type Standing } from "./pair";
import { answer } from "./said";
import { sendUntilTaken } from "./tell";

interface Device {
  id: string;
  name: string;
  role: "view" | "crew";
  made: string;
  this: boolean;
}

/** paired is the fold; it fills itself once it is known how this screen stands, and each time that it is opened. */
export function paired(): HTMLDetailsElement {
  const inside = el("div", {});
  const node = el("details", { class: "fold", id: "paired" }, el("summary", {}, words.paired), inside);
  onStanding((s) => {
    const fill = (): void => void list(s, inside, fill);
    node.addEventListener("toggle", () => { if (node.open) fill(); });
    if (node.open) fill();
  });
  return node;
}

async function list(s: Standing, into: HTMLElement, again: () => void): Promise<void> {
  const rows = s.role === "crew" ? await devices() : [];
  into.replaceChildren(el("p", {}, s.here ? words.here : words.may[s.role === "crew" ? "crew" : "view"]),
    ...rows.map((d) => el("p", { class: "key-row" }, el("span", { class: "what" }, words.row(d.name, d.made, d.role, d.this)),
      button(words.away, () => void sendAway(d.id, d.this, again), { "aria-label": `${words.away}: ${d.name}` }))),
    ...(s.here || s.role === "crew" ? [] : [button(words.unpair, () => void sendAway("", true, again))]),
    ...(s.role === "crew" ? [erase()] : []));
}

async function devices(): Promise<Device[]> {
  const response = await fetch("/api/devices", { signal: AbortSignal.timeout(10_000) }).catch(() => null);
  return response?.ok ? ((await response.json()) as { devices: Device[] }).devices : [];
}

async function sendAway(device: string, own: boolean, again: () => void): Promise<void> {
  const { problem } = await sendUntilTaken("/api/unpair", { device });
  if (problem !== "") answer(problem, true);
  else if (own) location.reload();
  else again();
}

/** erase is two presses: the first says what goes. */
function erase(): HTMLElement {
  const says = el("p", { role: "status" });
  const sure = button(words.eraseSure, () => void eraseAll());
  sure.hidden = true;
  const first = button(words.erase, () => {
    sure.hidden = false;
    setText(says, words.eraseSays);
  });
  return el("div", { class: "group" }, el("h3", {}, words.eraseTitle), first, says, sure);
}

async function eraseAll(): Promise<void> {
  const { problem } = await sendUntilTaken("/api/erase", { erase: "everything" });
  if (problem !== "") answer(problem, true);
  else location.reload();
}
