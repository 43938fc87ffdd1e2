/* Keeps the screen on while a session runs, and says so when it cannot. */

/** `told(isHeld)` hears whether the screen stays on, each time that changes. */
export function createWakeLock({ told, device = navigator, page = document }) {
  let lock = null;
  let isWanted = false;

  async function take() {
    if (!isWanted || page.visibilityState !== "visible" || lock) return;
    try {
      lock = await device.wakeLock.request("screen");
      lock.addEventListener("release", () => (lock = null), { once: true });
      told(true);
    } catch {
      told(false);
    }
  }

  page.addEventListener("visibilitychange", take);
  return {
    begin() {
      isWanted = true;
      return take();
    },
    end() {
      isWanted = false;
      lock?.release().catch(() => {});
    },
  };
}
