// Keeping the screen on, where the browser allows it: over plain HTTP from another
// machine it does not.

/** stayAwake asks for the screen to stay on, again whenever the page comes back. */
export function stayAwake(): void {
  if (!("wakeLock" in navigator)) return;
  const ask = (): void => {
    if (document.visibilityState === "visible") navigator.wakeLock.request("screen").catch(() => undefined);
  };
  document.addEventListener("visibilitychange", ask);
  ask();
}
