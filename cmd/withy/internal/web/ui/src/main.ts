// The page: it listens, and shows every view in all its parts.

import "./css/base.css";
import "./css/call.css";
import "./css/shed.css";
import "./css/alarm.css";
import "./css/crew.css";
import "./css/wait.css";
import "./css/screen.css";
import "./css/before.css";
import "./css/forced.css";
import { after } from "./after";
import { alarms } from "./alarms";
import { stayAwake } from "./awake";
import { before } from "./before";
import { toPieces } from "./bends";
import { box, watchWidth } from "./box";
import { call } from "./call";
import { crew } from "./crew";
import { device, onDevice } from "./device";
import { screen as screenWords } from "./device-words";
import { button, byID, el, forgetKeys, setText } from "./dom";
import { Fetched, onFetched } from "./fetched";
import { graph, graphFollows, graphRedraws } from "./graph";
import { guard } from "./hold";
import { Line } from "./live";
import { wearLook } from "./look";
import { measureIn } from "./measure";
import { more } from "./more";
import { standing } from "./pair";
import { answers, listen } from "./press";
import { screen } from "./screen";
import { quietIn, soundAs, soundButton, sounds } from "./sound";
import type { View } from "./state";
import { speaks } from "./voice";
import { another, corrections, pieces, wait } from "./wait";
import { wait as words } from "./wait-words";
import { water } from "./water";
import { page, phase } from "./words";

let newest: View | null = null;

/** came takes in a new view: what is shown, what sounds, what is said. */
function came(v: View): void {
  newest = v;
  show(v);
  answers(v);
  sounds(v);
  speaks(v, quietIn());
}

function show(v: View): void {
  const s = v.status;
  measure(v);
  guard(s);
  setText(byID("name"), [s.box, s.boat].filter((n) => n !== "").join(", ") || "Withy");
  setText(byID("phase"), phase(s));
  rehearsal(s.rehearsal, v.speed);
  alarms(v);
  call(v);
  water(v);
  box(v);
  crew(v);
  wait(v, inTheWait);
  before(v);
  after(v, corrections, another);
  more(v);
  graphFollows(v);
  amongOthers();
}

const shop = new Fetched(() => "api/shop", async (r) => (await r.json()) as { number: number; boxes: unknown[] });

/** amongOthers gives this box its own pitch, and a way to the page of all. */
function amongOthers(): void {
  const all = shop.get();
  if (!all) return;
  soundAs(all.number);
  toShop.hidden = all.boxes.length === 0;
}

/** measure shows quantities in the units that this screen was set to, or the box. */
function measure(v: View): void {
  const { units } = device();
  if (!measureIn(units === "shop" ? (v.units ?? "metric") : units)) return;
  forgetKeys();
  graphRedraws();
}

/** again shows the newest view as this screen is set now. */
function again(): void {
  if (newest) show(newest);
}

/** rehearsal writes it across the page, so that nobody takes it for the real box. */
function rehearsal(on: boolean, speed: number): void {
  const node = byID("rehearsal");
  node.hidden = !on;
  document.body.dataset.rehearsal = String(on);
  setText(node, on ? page.rehearsal : "");
  if (on) setText(byID("phase"), `${speed === 1 ? page.rehearsal : page.faster(speed)} · ${byID("phase").textContent ?? ""}`);
}

/** age shows how old the numbers are, and takes the life out of old ones. */
function age(line: Line): void {
  const { liveness, age: seconds, why } = line.trust();
  document.body.dataset.live = liveness;
  const lost = byID("lost");
  lost.hidden = liveness === "live" || liveness === "waiting";
  if (liveness === "lost") setText(lost, page.lost(seconds, why));
  if (liveness === "still") setText(lost, page.still(seconds ?? 0, why));
  setText(byID("age"), seconds === null ? page.waiting : liveness === "live" ? page.live(seconds) : page.old);
}

/** farView leaves the call alone on the screen, to be read from the boat. */
function farView(): HTMLButtonElement {
  const b = button(page.far, () => {
    const far = document.body.classList.toggle("far");
    setText(b, far ? page.near : page.far);
    again();
  });
  return b;
}

/** goTo goes to a section of the page, and those who work it by keys go on from there. */
function goTo(id: string): void {
  const section = byID(id);
  section.tabIndex = -1;
  section.focus({ preventScroll: true });
  section.scrollIntoView();
}

const inTheWait = button(words.title, () => goTo("wait"), { class: "wait" });
const thisScreen = button(screenWords.short, () => goTo("screen"), { class: "settings" });
const toShop = el("a", { href: "shop", class: "shop", hidden: true }, page.shop);
byID("tools").append(toShop, inTheWait, soundButton(), farView(), thisScreen);
wearLook(graphRedraws);
onDevice(again);
onFetched(again);
toPieces(() => {
  pieces.node.open = true;
  pieces.node.querySelector("summary")?.focus();
});
screen();
listen();
watchWidth();
graph();
stayAwake();
void standing();
const line: Line = new Line(came, () => age(line));
age(line);
