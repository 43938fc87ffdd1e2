/* The caseload by keys: up and down choose a row, Enter opens it, letters act on it. */
import { actionOf, rowAfter } from "./caseload-keys.js";

const STORED = "caseload-letters";
const table = document.querySelector("[data-caseload]");
const bar = document.querySelector("[data-keys]");

/** What the browser remembers about letter keys; where it may remember nothing, they are on. */
function lettersOn() {
  try {
    return localStorage.getItem(STORED) !== "off";
  } catch {
    return true;
  }
}

function remember(on) {
  try {
    localStorage.setItem(STORED, on ? "on" : "off");
  } catch {
    /* The choice then holds for this page only. */
  }
}

function show(on) {
  const button = bar.querySelector("[data-keys-switch]");
  const word = button.querySelector("[data-word-on]");
  button.setAttribute("aria-pressed", String(on));
  word.textContent = on ? word.dataset.wordOn : word.dataset.wordOff;
  bar.classList.toggle("is-off", !on);
}

function choose(rows, row) {
  for (const one of rows) one.classList.toggle("is-current", one === row);
}

function start() {
  const rows = [...table.querySelectorAll("tr:has([data-row-link])")];
  let letters = lettersOn();
  bar.hidden = false;
  show(letters);
  bar.querySelector("[data-keys-switch]").addEventListener("click", () => {
    letters = !letters;
    remember(letters);
    show(letters);
  });
  table.addEventListener("focusin", (event) => choose(rows, event.target.closest("tr")));
  document.addEventListener("keydown", (event) => {
    const action = actionOf(event, letters);
    if (!action) return;
    const focused = document.activeElement?.closest("tr");
    const current = rows.indexOf(focused);
    if (action === "up" || action === "down") {
      if (current < 0 && document.activeElement !== document.body) return;
      const row = rows[rowAfter(current, action, rows.length)];
      event.preventDefault();
      row.querySelector("[data-row-link]").focus();
      row.scrollIntoView({ block: "nearest" });
      return;
    }
    const target = rows[current]?.querySelector(`[data-key="${action}"]`);
    if (target) {
      event.preventDefault();
      target.click();
    }
  });
}

if (table && bar) start();
