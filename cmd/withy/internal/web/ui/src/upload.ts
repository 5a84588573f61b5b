// Taking a table from a file of this device.

import { before as words } from "./before-words";
import { button, el } from "./dom";
import { answer } from "./said";

const most = 64 << 10; // bytes, as the daemon takes

/** upload is a button that asks for a file and hands its text on. */
export function upload(take: (text: string) => void): HTMLElement {
  const input = el("input", { type: "file", accept: ".csv,text/csv", class: "unseen", tabindex: -1, "aria-hidden": "true" });
  input.addEventListener("change", () => void read(input, take));
  return el("span", {}, input, button(words.file, () => input.click()));
}

async function read(input: HTMLInputElement, take: (text: string) => void): Promise<void> {
  const file = input.files?.[0];
  if (!file) return;
  if (file.size > most) answer(words.tooLong, true);
  else take(await file.text());
  input.value = ""; // so that the same file can be taken again once it is put right
}
