/* What a key means on the caseload. Pure, so that it can be tried without a page. */

const LETTERS = ["c", "d", "p"];
const FIELDS = ["INPUT", "TEXTAREA", "SELECT"];

/** "up", "down", a letter of ours, or "" when the key is not for us. */
export function actionOf(event, letters) {
  if (event.altKey || event.ctrlKey || event.metaKey || event.defaultPrevented) return "";
  if (event.isComposing || FIELDS.includes(event.target?.tagName) || event.target?.isContentEditable) return "";
  if (event.key === "ArrowUp") return "up";
  if (event.key === "ArrowDown") return "down";
  const letter = event.key?.length === 1 ? event.key.toLowerCase() : "";
  return letters && !event.repeat && LETTERS.includes(letter) ? letter : "";
}

/** The row after `current` (-1 for none) in a direction; stays within the list. */
export function rowAfter(current, direction, count) {
  if (current < 0) return 0;
  const next = direction === "up" ? current - 1 : current + 1;
  return Math.min(Math.max(next, 0), count - 1);
}
