// How this screen stands with the box, and how it is paired: while the page is open it
// asks, and a press of the board's button or a code lets it in.

import { pair as words } from "./device-words";
import { button, byID, el, setText } from "./dom";
import { newID, sendUntilTaken } from "./tell";

/** Standing is how the daemon has it. */
export interface Standing {
  role: "" | "view" | "crew";
  here: boolean; // on the board itself
  name?: string;
  safe: boolean; // nobody in between can read or change what is sent
}

const askFor = 120_000; // ms that the button is waited for
const every = 1000; // ms between two times that it is asked

const listeners: ((s: Standing) => void)[] = [];
let shown = false;

/** onStanding calls hear once it is known how this screen stands. */
export function onStanding(hear: (s: Standing) => void): void {
  listeners.push(hear);
}

/** standing finds out how this screen stands, and asks to be paired where it isn't. */
export async function standing(): Promise<void> {
  try {
    const response = await fetch("/api/pairing", { signal: AbortSignal.timeout(every * 5) });
    if (!response.ok) return;
    const s = (await response.json()) as Standing;
    document.body.dataset.role = s.role || "nobody";
    if (s.role === "") show(s);
    else for (const hear of listeners) hear(s);
  } catch {
    // Nobody is there; the line says so, and it is asked again when the line is refused.
  }
}

/** deviceName is what the box knows this device by. */
export function deviceName(agent: string): string {
  return words.devices.find(([part]) => agent.includes(part))?.[1] ?? words.device;
}

/** show puts the way in over the page. */
function show(s: Standing): void {
  if (shown) return;
  shown = true;
  const says = el("p", { role: "status" });
  const code = el("input", { inputmode: "numeric", autocomplete: "one-time-code", maxlength: 7, "aria-label": words.code });
  const send = async (): Promise<void> => {
    const digits = code.value.replace(/\D/g, "");
    if (digits.length === 6) await letIn({ code: digits }, says);
    else setText(says, words.sixDigits);
  };
  code.addEventListener("keydown", (e) => { if (e.key === "Enter") void send(); });
  const again = button(words.again, () => void ask());
  const ask = async (): Promise<void> => {
    again.hidden = true;
    setText(says, words.waiting);
    const [secret, end] = [newID(), performance.now() + askFor];
    while (performance.now() < end) {
      if (document.visibilityState === "visible") await letIn({ ask: secret }, says);
      await new Promise((resume) => setTimeout(resume, every));
    }
    setText(says, words.stopped);
    again.hidden = false;
  };
  byID("pair").append(el("h2", {}, words.title),
    el("ul", {}, el("li", {}, words.press), el("li", {}, words.type, el("span", { class: "pair-code" }, code, button(words.send, () => void send())))),
    el("p", {}, again, says), ...(s.safe ? [] : [el("p", { class: "legend" }, words.open)]));
  byID("pair").hidden = false;
  void ask();
}

/** letIn asks to be let in, and begins the page anew once it is. */
async function letIn(how: { code?: string; ask?: string }, says: HTMLElement): Promise<void> {
  const { problem, body } = await sendUntilTaken("/api/pair", { name: deviceName(navigator.userAgent), ...how });
  if (problem !== "") setText(says, problem);
  else if ((body as { role: string }).role !== "") location.reload();
  else setText(says, words.waiting);
}
