/* Puts the stage in the place of the plain form: wiring between machine, page, queue, sound and screen. */
import { csrfFetch } from "../../design/js/csrf-fetch.js";
import { createQueue } from "./send-queue.js";
import { advance, beginSession } from "./session-machine.js";
import { lookAt } from "./stage-look.js";
import { createStage } from "./stage-view.js";
import { createTones } from "./tones.js";
import { createWakeLock } from "./wake-lock.js";

const LATE_MS = 4000; // shorter than this, a set on its way is not worth a word
const SOUND_KEY = "carryover.sound"; // a choice about the device, nothing about a person
const TICK_MS = 200;
const TONES = { LEAD: "LEAD", OUT: "GO", BACK: "TURN", HOLD: "GO", MOVE: "GO", CHANGE: "TURN", REST: "OVER", SIDE: "OVER" };

const plan = JSON.parse(document.getElementById("session-plan").textContent);
const stage = document.getElementById("stage-template") && createStage(document);
if (stage && plan.items.some((item) => item.sets.length)) play();

function play() {
  const tones = createTones({ isOn: storedSound() });
  const lock = createWakeLock({ told: stage.tellAwake });
  const queue = createQueue({
    wait: (ms) => new Promise((resolve) => setTimeout(resolve, ms)),
    changed: (told) => tellQueue(told),
  });
  let state = beginSession(plan, Date.now());
  let before = null;
  let lateSince = null;
  let told = { waiting: 0, refused: [], isSignedOut: false };
  let isLeaving = false;

  document.getElementById("session-page").replaceChildren(stage.root);
  document.body.classList.add("on-stage");
  stage.tellSound(tones.isOn);

  function on(type) {
    const moved = advance(plan, state, { type, at: Date.now() }, () => crypto.randomUUID());
    state = moved.state;
    for (const effect of moved.effects) EFFECTS[effect.type](effect);
    show();
  }

  const EFFECTS = {
    LOG: ({ key, set }) => {
      const { occurred_at: at, ...rest } = set;
      const body = { ...rest, client_key: key, occurred_at: new Date(at).toISOString() };
      queue.add({ id: key, send: () => csrfFetch(plan.addresses.sets, { body, keepalive: true }) });
    },
    UNDO: ({ key }) => {
      const body = { client_key: key };
      queue.add({ id: `undo ${key}`, send: () => csrfFetch(plan.addresses.sets, { method: "DELETE", body, keepalive: true }) });
    },
    END: () => leave(plan.addresses.finish),
  };

  function show() {
    const look = lookAt(plan, state, Date.now());
    stage.draw(look, plan.addresses);
    const cue = `${look.cue} ${look.item.prescription} ${look.setNumber} ${look.set.side} ${look.repetition ?? ""} ${look.side}`;
    const second = look.cue === "LEAD" ? look.number : "";
    if (before && before.cue !== cue) sound(look);
    else if (before && before.second !== second && second !== "") tones.play("LEAD");
    if (before?.spoken !== spokenKey(look)) stage.part("announce").textContent = stage.sentence(look);
    if (before && before.phase !== look.phase) window.scrollTo(0, 0);
    before = { phase: look.phase, cue, second, spoken: spokenKey(look) };
    if (lateSince !== null && Date.now() - lateSince > LATE_MS) stage.tellQueue(told, true);
  }

  /** Phases are announced, not seconds and not each repetition. */
  function spokenKey(look) {
    const parts = ["OUT", "STILL", "BACK"].includes(look.cue) ? "OUT" : look.cue;
    return `${parts} ${look.item.prescription} ${look.setNumber} ${look.side} ${look.isPaused}`;
  }

  function sound(look) {
    const tone = TONES[look.cue];
    if (tone) tones.play(tone);
    else if (look.cue === "READY" && before.cue.startsWith("READY") === false) tones.play("OVER");
    if (before.cue.startsWith("REST")) tones.play("REST_OVER");
  }

  function tellQueue(now) {
    told = now;
    if (now.waiting === 0) lateSince = null;
    else lateSince ??= Date.now();
    stage.tellQueue(now, lateSince !== null && (now.isSignedOut || Date.now() - lateSince > LATE_MS));
  }

  /** Goes on to another page once everything is with the server. */
  async function leave(address) {
    lock.end();
    await queue.emptied();
    isLeaving = true;
    location.assign(address);
  }

  const ACTIONS = {
    main: () => on("MAIN"),
    done: () => on("DONE"),
    longer: () => on("LONGER"),
    shorter: () => on("SHORTER"),
    back: () => on("BACK"),
    enough: () => on("ENOUGH"),
    how: () => open("how"),
    skip: () => open("skip"),
    "skip-now": () => {
      stage.dialog("skip").close();
      on("SKIP");
    },
    send: () => queue.hurry(),
    sound: () => {
      tones.isOn = !tones.isOn;
      tones.unlock();
      storeSound(tones.isOn);
      stage.tellSound(tones.isOn);
    },
  };

  /** The clock stands still while something is read or decided. */
  function open(name) {
    on("PAUSE");
    stage.dialog(name).showModal();
    stage.dialog(name).querySelector("h2").focus();
  }

  stage.root.addEventListener("click", (event) => {
    tones.unlock();
    lock.begin();
    const button = event.target.closest("button, a");
    if (button) ACTIONS[button.dataset.action]?.();
    else if (event.target.closest("[data-tap]")) on("MAIN");
  });

  const KEYS = { " ": "main", ArrowRight: "skip", ArrowLeft: "back", ArrowUp: "longer", ArrowDown: "shorter" };
  document.addEventListener("keydown", (event) => {
    const isElsewhere = event.target.closest?.("dialog, a, input, textarea, select") || event.repeat;
    if (isElsewhere || event.altKey || event.ctrlKey || event.metaKey) return;
    if (event.key === " " && event.target.closest?.("button")) return;
    const name = KEYS[event.key];
    const button = name && stage.action(name);
    if (!button || button.hidden || button.disabled) return;
    event.preventDefault();
    button.click();
  });

  window.addEventListener("online", () => queue.hurry());
  window.addEventListener("beforeunload", (event) => queue.waiting && !isLeaving && event.preventDefault());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && on("TICK"));
  setInterval(() => on("TICK"), TICK_MS);
  if (state.phase === "END") leave(plan.addresses.finish);
  show();
  stage.part("name").focus({ preventScroll: true });
}

function storedSound() {
  try {
    return localStorage.getItem(SOUND_KEY) !== "off";
  } catch {
    return true;
  }
}

function storeSound(isOn) {
  try {
    localStorage.setItem(SOUND_KEY, isOn ? "on" : "off");
  } catch {
    // Private windows may refuse: then the choice holds for this session only.
  }
}
