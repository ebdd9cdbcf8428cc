// The screen stays on while the camera is open. Browsers drop the lock when the page is hidden, so it is asked again.

let wanted = false;
let lock = null;

const ask = async () => {
  if (!wanted || document.visibilityState !== "visible" || !navigator.wakeLock) return;
  lock = await navigator.wakeLock.request("screen").catch(() => null);
};

document.addEventListener("visibilitychange", ask);

export const stayAwake = () => {
  wanted = true;
  return ask();
};

export const sleepAgain = () => {
  wanted = false;
  lock?.release().catch(() => {});
  lock = null;
};
