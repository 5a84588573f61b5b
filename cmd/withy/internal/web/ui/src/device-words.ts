// What the page says of this screen itself, and what its voice says, in the words of
// the shed.

import type { Device, Look, Press } from "./device";
import type { InHand } from "./hand";
import type { Lies } from "./lie";
import type { Call, Mark } from "./state";

const ones = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
  "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"];
const tens = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];

/** inWords says a whole number below 100 in words, so that every voice reads it alike. */
export function inWords(n: number): string {
  if (n < 20) return ones[n] ?? String(n);
  const [ten, one] = [tens[Math.floor(n / 10)] ?? String(n), n % 10];
  return one === 0 || n > 99 ? ten : `${ten}-${ones[one]}`;
}

/** label says what is written on a piece: a number in words, anything else letter by letter as it is. */
function label(rib: string | undefined): string {
  return /^\d{1,2}$/.test(rib ?? "") ? inWords(Number(rib)) : (rib ?? "?");
}

/** long says a time the way one does when it need not be exact. */
function long(s: number): string {
  if (s < 55) return `${inWords(Math.round(s / 10) * 10)} seconds`;
  const m = Math.round(s / 60);
  return m === 1 ? "a minute" : `${inWords(m)} minutes`;
}

const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);
const of = (c: Call): string => (c.boat ? ` of ${c.boat}` : "");

/** side names a side of the boat, with the shed's own name for it where it has one. */
export function side(mark: Mark, name: string): string {
  return name === "" ? mark : `${mark}, ${name}`;
}

export const voice = {
  soon: (c: Call) => `${capital(label(c.rib))}${of(c)} soon. ${c.slot}.`,
  pull: (c: Call) => `${capital(label(c.rib))}${of(c)}. ${c.slot}.`,
  load: (c: Call) => `Load ${label(c.rib)}${of(c)} into ${c.slot}. Mark towards you.`,
  dry: "Pull. Walk, fit, and back.",
  mark: (m: Mark, name: string) => `Mark to ${side(m, name)}.`,
  good: (s: number | undefined) => (s === undefined ? "It keeps." : s < 20 ? "It won’t wait." : `Good for ${long(s)}.`),
  gently: "Its hotter end has had too much. Bend it gently.",
  notSure: "Not sure.",
  sentence: (text: string) => `${text}.`,
  heard: "Heard it?",
};

export const heard = {
  ask: "Heard it?",
  asks: "One pulse, then a voice.",
  asksSoundOnly: "One pulse.",
  yes: "Yes",
  no: "No",
  again: "Play it again",
  close: "Close",
  check: "Then look at these:",
  checks: [
    "The volume, with the keys at the side while it plays.",
    "The silent switch, or “do not disturb”.",
    "Headphones or a speaker that is still joined to it somewhere else.",
    "The tab: it may be set to make no sound.",
    "From the boat, with the burner roaring, a phone is hardly heard. The sounder is the alarm.",
  ],
};

export const hold = {
  how: "Ribs are in: hold a button until it has filled. Enter on a keyboard acts at once.",
  longer: "Hold it until it has filled.",
};

export const hand = {
  rib: (h: InHand) => `Rib ${h.rib}`,
  stages: { bend: "left to bend it", shape: "left to shape it", give: "it still gives" },
  says: (h: InHand) => `Rib ${h.rib} is in hand${h.mark === "" ? "" : `, mark to ${h.mark}`}.`,
};

export const screen = {
  title: "This screen",
  short: "Set up",
  kept: "Kept on this device only.",
  place: "Where it stands",
  places: { box: "at the box", boat: "at the boat" },
  placeSays: "At the boat, the far view shows the rib in hand: which side its mark goes to and how long it can be worked, then the next.",
  look: "Look",
  looks: { auto: "as the device is set", light: "light", dark: "dark", sun: "sun: black on white" } satisfies Record<Look, string>,
  units: "Units",
  unitsAs: { shop: "as the box has them", metric: "°C, mm, litres", us: "°F, inches, quarts" } satisfies Record<Device["units"], string>,
  voice: "Voice",
  voices: { on: "speaks", off: "silent" },
  rate: "How fast it speaks",
  rates: { slow: "slowly", usual: "as usual", quick: "quickly" },
  voiceNone: "This browser has no voice. Nothing is lost by that: all that it would say stands on the page.",
  voiceRemote: "This browser’s voices need the internet: without it they are silent. All that they say stands on the page.",
  voiceOwn: "Speaks with this device’s own voice, once the sound is on.",
  voiceFailed: "The voice did not speak the last time. All that it says stands on the page.",
  boat: "How the boat lies",
  keel: "Keel",
  keels: { down: "down", up: "up" } satisfies Record<Lies["keel"], string>,
  bow: "Bow, from where you stand",
  bows: { away: "away from you", towards: "towards you", left: "to your left", right: "to your right" } satisfies Record<Lies["bow"], string>,
  sides: "Your own names for her sides, such as “window side”",
  side: (m: Mark) => `${m} is the`,
  boatSays: "The edge that lights up and the drawing of the boat follow. Red tape on the port gunwale, green on starboard, and nobody has to think.",
  keys: "Keys and pedals",
  keysSay: "A pedal on a cable is a keyboard. Choose what it does, then press it.",
  does: {
    next: "did what was called: pulled, or loaded",
    supple: "the last rib was supple",
    stiff: "the last rib was stiff",
    cracked: "the last rib cracked",
    kettle: "the kettle is on",
    stop: "a break, and back again",
    heard: "alarm heard",
  } satisfies Record<Press, string>,
  set: "Set",
  waits: "Press the pedal now…",
  clear: "None",
  noKey: "no key",
  refusedKey: "That key works the page itself. Set the pedal to send another, such as F7.",
};

export const answer = {
  left: (s: number) => `${Math.ceil(s)} s`,
};

export const pair = {
  title: "Pair this phone",
  press: "With this page open, press the button on the board and hold it for five seconds.",
  type: "Or type the code that the command “withy pair” shows on the board.",
  code: "Code",
  send: "Pair",
  sixDigits: "The code has six digits.",
  waiting: "Waiting for the button.",
  stopped: "Nobody pressed the button.",
  again: "Wait for it again",
  open: "On this wireless network others can read along. Pair here only where you know who is on it.",
  device: "browser",
  devices: [["iPad", "iPad"], ["iPhone", "iPhone"], ["Android", "Android"], ["Macintosh", "Mac"], ["Windows", "Windows"], ["Linux", "Linux"]] as [string, string][],
  paired: "Phones that are paired",
  here: "This screen is on the board itself. It needs no pairing.",
  may: { crew: "This device may look, tell and set.", view: "This device may look." },
  row: (name: string, since: string, role: "crew" | "view", own: boolean) => `${name}${own ? ", this one" : ""}, since ${since}${role === "view" ? ", looks only" : ""}`,
  away: "Send away",
  unpair: "Un-pair this device",
  eraseTitle: "Erase",
  erase: "Erase all that is kept",
  eraseSays: "The log, what was set, calibrations and all pairings go. It can’t be taken back.",
  eraseSure: "Erase it now",
};
