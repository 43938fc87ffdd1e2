/* The course by pointer, tap and keys: one day at a time is shown in words below the chart. */
import { dayAfter } from "./course-keys.js";

const chart = document.querySelector("[data-course]");
const line = document.querySelector("[data-day-line]");

function show(days, day) {
  for (const one of days) {
    one.classList.toggle("is-shown", one === day);
    one.setAttribute("tabindex", one === day ? "0" : "-1");
  }
  line.textContent = day.getAttribute("aria-label");
}

/** A link to a row of the table opens the table first: not every browser does. */
function reveal() {
  const row = location.hash.startsWith("#day-") && document.getElementById(location.hash.slice(1));
  if (!row) return;
  row.closest("details").open = true;
  row.scrollIntoView({ block: "center" });
}

function start() {
  const days = [...chart.querySelectorAll(".course__day")];
  chart.scrollLeft = chart.scrollWidth;
  line.hidden = false;
  show(days, days[days.length - 1]);
  chart.addEventListener("pointerover", (event) => {
    const day = event.target.closest(".course__day");
    if (day) show(days, day);
  });
  chart.addEventListener("focusin", (event) => {
    const day = event.target.closest(".course__day");
    if (day) show(days, day);
  });
  // A tap or a click tells the day; Enter on it goes on to the table.
  chart.addEventListener("click", (event) => {
    const day = event.target.closest(".course__day");
    if (!day || event.detail === 0) return;
    event.preventDefault();
    show(days, day);
  });
  chart.addEventListener("keydown", (event) => {
    const current = days.indexOf(event.target.closest(".course__day"));
    const next = current < 0 ? -1 : dayAfter(event, current, days.length);
    if (next < 0) return;
    event.preventDefault();
    days[next].focus();
  });
  window.addEventListener("hashchange", reveal);
  reveal();
}

if (chart && line) start();
