// The page: it listens, and shows every view in all its parts.

import "./css/base.css";
import "./css/call.css";
import "./css/shed.css";
import "./css/alarm.css";
import "./css/crew.css";
import "./css/wait.css";
import { alarms } from "./alarms";
import { stayAwake } from "./awake";
import { box, watchWidth } from "./box";
import { call } from "./call";
import { crew } from "./crew";
import { button, byID, setText } from "./dom";
import { graph, graphFollows } from "./graph";
import { Line } from "./live";
import { more } from "./more";
import { soundButton, sounds } from "./sound";
import type { View } from "./state";
import { wait } from "./wait";
import { wait as words } from "./wait-words";
import { water } from "./water";
import { page, phases } from "./words";

function show(v: View): void {
  const s = v.status;
  setText(byID("name"), [s.box, s.boat].filter((n) => n !== "").join(", ") || "Withy");
  setText(byID("phase"), phases[s.phase]);
  rehearsal(s.rehearsal, v.speed);
  alarms(v);
  call(v);
  water(v);
  box(v);
  crew(v);
  wait(v, inTheWait);
  more(v);
  graphFollows(v);
  sounds(v);
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
  if (liveness === "lost") setText(lost, page.lost(seconds));
  if (liveness === "still") setText(lost, page.still(seconds ?? 0, why));
  setText(byID("age"), seconds === null ? page.waiting : liveness === "live" ? page.live(seconds) : page.old);
}

/** farView leaves the call alone on the screen, to be read from the boat. */
function farView(): HTMLButtonElement {
  const b = button(page.far, () => {
    const far = document.body.classList.toggle("far");
    setText(b, far ? page.near : page.far);
  });
  return b;
}

const inTheWait = button(words.title, () => byID("wait").scrollIntoView(), { class: "wait" });
byID("tools").append(inTheWait, soundButton(), farView());
watchWidth();
graph();
stayAwake();
const line: Line = new Line(show, () => age(line));
age(line);
