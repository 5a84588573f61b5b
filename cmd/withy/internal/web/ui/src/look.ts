// How the page looks: light, dark, or black on white for the sun.

import { device, onDevice, type Look } from "./device";

/** Wishes is how the device itself is set. */
export interface Wishes {
  light: boolean;
  contrast: boolean;
}

/** looks returns the look to take: the one that was chosen, or the device's own. Light with more contrast is the sun's. */
export function looks(chosen: Look, w: Wishes): Exclude<Look, "auto"> {
  if (chosen !== "auto") return chosen;
  if (!w.light) return "dark";
  return w.contrast ? "sun" : "light";
}

/** wearLook gives the page its look, now and with each change, and calls changed after each. */
export function wearLook(changed: () => void): void {
  const light = matchMedia("(prefers-color-scheme: light)");
  const contrast = matchMedia("(prefers-contrast: more)");
  const wear = (): void => {
    const look = looks(device().look, { light: light.matches, contrast: contrast.matches });
    if (document.documentElement.dataset.look === look) return;
    document.documentElement.dataset.look = look;
    changed();
  };
  for (const wish of [light, contrast]) wish.addEventListener("change", wear);
  onDevice(wear);
  wear();
}
