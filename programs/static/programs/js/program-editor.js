/* The program editor without page reloads. Every button also works as a plain form post: here the
   answer of the server is fetched and only the parts that changed are put in their place. */
import { sessionMinutes, sessionsPerWeek, weeklyDose } from "./dose.js";

const WAIT = 300;
const form = document.querySelector("[data-editor]");
let waiting = 0;
let asked = 0;
let pressing = null;
let isChanged = false;

const number = (name) => {
  const text = form.elements[name]?.value?.trim() ?? "";
  return /^\d+$/.test(text) ? Number(text) : null;
};

/** The dose that stands in the fields of one exercise; null while it is not complete. */
function doseOf(item) {
  const at = `items-${item.dataset.item}-`;
  const sides = { BOTH_TOGETHER: "BILATERAL", ALTERNATING: "ALTERNATE" };
  const tempo = ["tempo_out", "tempo_still", "tempo_back"].map((part) => number(at + part));
  const dose = {
    kind: item.dataset.kind,
    side: sides[item.dataset.sides] ?? form.elements[`${at}side`]?.value,
    sets: number(`${at}sets`),
    repetitions: number(`${at}repetitions`),
    hold_seconds: number(`${at}hold_seconds`),
    duration_seconds: number(`${at}duration_seconds`),
    rest_seconds: number(`${at}rest_seconds`),
    tempo: tempo.includes(null) ? null : tempo,
  };
  const needed = {
    REPETITIONS: ["repetitions"],
    HELD_REPETITIONS: ["repetitions", "hold_seconds"],
    HOLD: ["hold_seconds"],
    TIMED: ["duration_seconds"],
  }[dose.kind];
  const isWhole = ["sets", "rest_seconds", ...needed].every((name) => dose[name] !== null);
  return isWhole && dose.side ? dose : null;
}

function schedule() {
  return {
    pattern: form.elements.pattern?.value,
    times_per_day: number("times_per_day") ?? 1,
    weekdays: [...form.querySelectorAll('[name="weekdays"]:checked')].map((box) => Number(box.value)),
    every_days: number("every_days"),
    weekly_quota: number("weekly_quota"),
  };
}

/** Counts at once what can be counted here; the words follow from the server. */
function count() {
  const items = [...form.querySelectorAll("[data-item]:not([data-removed])")];
  const doses = items.map(doseOf).filter(Boolean);
  const week = weeklyDose(doses, sessionsPerWeek(schedule()) ?? 0);
  const totals = {
    minutes: sessionMinutes(doses),
    repetitions: week.repetitions,
    held: Math.ceil(week.hold_seconds / 60),
    moving: Math.ceil(week.moving_seconds / 60),
  };
  for (const [name, value] of Object.entries(totals)) {
    const shown = form.querySelector(`[data-total="${name}"]`);
    if (!shown) continue;
    shown.textContent = String(value);
    if (name !== "minutes") shown.parentElement.hidden = value === 0;
  }
}

/** What is open in the page stays open when its part is replaced. */
function openParts(root) {
  const items = [...root.querySelectorAll("[data-item]")];
  return new Set(
    items.flatMap((item) => {
      const id = item.querySelector('[name$="-exercise"]')?.value;
      const open = [...item.querySelectorAll("details")].map((part, index) => [part.open, index]);
      return open.filter(([is]) => is).map(([, index]) => `${id} ${index}`);
    }),
  );
}

function reopen(root, open) {
  for (const item of root.querySelectorAll("[data-item]")) {
    const id = item.querySelector('[name$="-exercise"]')?.value;
    item.querySelectorAll("details").forEach((part, index) => {
      if (open.has(`${id} ${index}`)) part.open = true;
    });
  }
}

function swap(page, names) {
  const open = openParts(form);
  for (const name of names) {
    const fresh = page.getElementById(name);
    const old = document.getElementById(name);
    if (fresh && old) old.replaceWith(document.adoptNode(fresh));
  }
  reopen(form, open);
}

/** Posts the form with a button's value and returns the page that came back, null when none did. */
async function ask(action) {
  const mine = ++asked;
  const body = new FormData(form);
  body.set("action", action);
  try {
    const response = await fetch(window.location.pathname, { method: "POST", body, credentials: "same-origin" });
    if (!response.ok || response.redirected || mine !== asked) return null;
    return new DOMParser().parseFromString(await response.text(), "text/html");
  } catch {
    return null;
  }
}

const WHOLE = ["editor-items", "editor-phone", "editor-totals", "editor-said"];

/** Everything that stands in the form, to see whether somebody typed on meanwhile. */
const typed = () => new URLSearchParams(new FormData(form)).toString();

/** Asks until the answer is about what stands in the form now, so that no key press is lost. */
async function settled(action) {
  for (;;) {
    const before = typed();
    const page = await ask(action);
    if (!page || typed() === before) return page;
  }
}

/** One press after the other: adding waits for its turn, what names a place in the list does not. */
function press(button) {
  if (pressing && !button.value.startsWith("add:")) return;
  const turn = Promise.resolve(pressing).then(() => act(button));
  pressing = turn;
  turn.finally(() => {
    if (pressing === turn) pressing = null;
  });
}

async function act(button) {
  window.clearTimeout(waiting);
  button.setAttribute("aria-busy", "true");
  const page = await settled(button.value);
  if (!page) {
    // No answer, or the sign-in page: the plain way says what is wrong.
    button.removeAttribute("aria-busy");
    form.dataset.plain = "yes";
    form.requestSubmit(button);
    return;
  }
  const places = button.value === "search" ? ["library-results"] : WHOLE;
  swap(page, places);
  button.removeAttribute("aria-busy");
  const target = form.querySelector("#editor-items [autofocus]");
  target?.focus({ preventScroll: false });
}

/** Asks for the words again a moment after the last key; what is being typed is left alone. */
function later(action, places) {
  window.clearTimeout(waiting);
  waiting = window.setTimeout(async () => {
    await pressing;
    const page = await ask(action);
    if (page) swap(page, places);
    if (page) swapWords(page);
  }, WAIT);
}

/** The dose in words beside each exercise, without touching its fields. */
function swapWords(page) {
  for (const line of page.querySelectorAll("[data-item]")) {
    const here = document.getElementById(line.id)?.querySelector(".editor-item__dose");
    const fresh = line.querySelector(".editor-item__dose");
    if (here && fresh) here.textContent = fresh.textContent;
  }
}

form?.addEventListener("submit", (event) => {
  const button = event.submitter;
  const action = button?.name === "action" ? button.value : "";
  if (form.dataset.plain || action === "save" || action === "review") {
    if (pressing && !form.dataset.plain) {
      // What was pressed before comes first.
      event.preventDefault();
      pressing.then(() => form.requestSubmit(button));
      return;
    }
    isChanged = false;
    return;
  }
  event.preventDefault();
  if (action === "preview") {
    later("preview", ["editor-phone", "editor-totals", "library-results"]);
    return;
  }
  isChanged = isChanged || action !== "search";
  press(button);
});

form?.addEventListener("input", (event) => {
  if (event.target.matches("[data-search]")) {
    later("search", ["library-results"]);
    return;
  }
  isChanged = true;
  count();
  later("preview", ["editor-phone", "editor-totals"]);
});

/* Alt with an arrow moves the exercise that has the keyboard, as its two buttons do. */
form?.addEventListener("keydown", (event) => {
  const verb = { ArrowUp: "up", ArrowDown: "down" }[event.key];
  if (!event.altKey || !verb) return;
  const button = event.target.closest("[data-item]")?.querySelector(`[data-key="${verb}"]`);
  if (!button || button.disabled) return;
  event.preventDefault();
  press(button);
});

window.addEventListener("beforeunload", (event) => {
  if (isChanged) event.preventDefault();
});
