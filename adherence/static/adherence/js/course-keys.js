/* Which day of the course a key leads to. Pure, so that it can be tried without a page. */

const STEPS = { ArrowLeft: -1, ArrowRight: 1, PageUp: -7, PageDown: 7 };

/** The place of the next day among `count`, or -1 when the key is not for us. */
export function dayAfter(event, current, count) {
  if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return -1;
  if (event.key === "Home") return 0;
  if (event.key === "End") return count - 1;
  const step = STEPS[event.key];
  return step === undefined ? -1 : Math.min(Math.max(current + step, 0), count - 1);
}
