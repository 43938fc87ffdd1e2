/* The guided session as a state machine: get ready, work, side change, rest, next, end.
   Pure: time comes in with every event, what must happen goes out as effects. Times in milliseconds.

   state   { phase, step, timer, restSeconds, count, results, seenAt }
           phase READY (waits for a tap), WORK, SIDE, REST, END; step: place in `stepsOf(plan)`, the next one while resting
           results: by step null or { state, key, …amount }; after END the step is the last one
   event   { type, at } with type MAIN, DONE, SKIP, BACK, ENOUGH, LONGER, SHORTER, PAUSE, RESUME, TICK
           MAIN is the one big button: begin, count, pause, go on, as the phase has it
   effects { type: "LOG", key, set }, { type: "UNDO", key }, { type: "END" }; keys are made before anything is sent */
import { elapsed, endOf, pauseTimer, resumeTimer, startTimer, totalSeconds } from "./countdown.js";
import { amountAt, plannedAmount, segmentsOf } from "./set-work.js";

const REST_STEP = 15;
const SIDE_SECONDS = 5; // at least, to turn around
const DEAF_MS = 700; // a second tap of a double tap must not act on what the first one brought
const SKIPPED = { state: "SKIPPED", repetitions: null, held_seconds: null, moved_seconds: null };
const GAP_MS = 5000; // nobody has seen the screen for longer: the next set waits for a tap

/** All sets in the order of doing. */
export function stepsOf(plan) {
  return plan.items.flatMap((item, place) => item.sets.map((set) => ({ item, set, place })));
}

export function beginSession(plan, at) {
  const steps = stepsOf(plan);
  const results = steps.map(({ set }) => (set.logged ? { ...set.logged } : null));
  const first = nextOpen(steps, results, -1);
  const phase = first === null ? "END" : "READY";
  const state = fresh({ results, seenAt: at }, phase, first ?? Math.max(0, steps.length - 1), at);
  return { ...state, enteredAt: -DEAF_MS }; // no tap has led here
}

/** The state after an event, and what has to be done for it: { state, effects }. `newKey` makes the keys of logs. */
export function advance(plan, state, event, newKey) {
  const script = { steps: stepsOf(plan), newKey };
  const caught = settle(script, state, event.at, []);
  const moved = HANDLERS[event.type](script, caught.state, event);
  const after = { ...moved.state, seenAt: Math.max(event.at, state.seenAt) };
  return { state: after, effects: [...caught.effects, ...moved.effects] };
}

const stay = (state) => ({ state, effects: [] });

const HANDLERS = {
  TICK: (script, state) => stay(state),
  MAIN: (script, state, { at }) => {
    if (state.phase === "END" || isDeaf(state, at)) return stay(state);
    if (state.timer.pausedAt !== null) return stay(resumed(state, at));
    if (state.phase !== "WORK") return stay(work(state, at));
    if (isTimed(script.steps, state)) return stay(paused(state, at));
    const counted = { ...state, count: state.count + 1 };
    const isAll = counted.count >= script.steps[state.step].set.repetitions;
    return isAll ? finish(script, counted, at) : stay(counted);
  },
  DONE: (script, state, { at }) => (state.phase !== "WORK" || isDeaf(state, at) ? stay(state) : finish(script, state, at)),
  SKIP: (script, state, { at }) => (state.phase === "END" ? stay(state) : record(script, state, at, SKIPPED, "READY")),
  BACK: (script, state, { at }) => back(script, state, at),
  ENOUGH: (script, state, { at }) => enough(script, state, at),
  LONGER: (script, state) => stay(isResting(state) ? rested(state, REST_STEP) : state),
  SHORTER: (script, state) => stay(isResting(state) ? rested(state, -REST_STEP) : state),
  PAUSE: (script, state, { at }) => stay(isTimed(script.steps, state) ? paused(state, at) : state),
  RESUME: (script, state, { at }) => stay(resumed(state, at)),
};

export function isResting(state) {
  return state.phase === "REST" || state.phase === "SIDE";
}

/** Whether the phase runs by the clock and so can be paused. */
function isTimed(steps, state) {
  if (isResting(state)) return true;
  const { item, set } = steps[state.step] ?? {};
  return state.phase === "WORK" && segmentsOf(item, set) !== null;
}

function isDeaf(state, at) {
  return Math.abs(at - state.enteredAt) < DEAF_MS;
}

function fresh(state, phase, step, at, restSeconds = 0) {
  return { ...state, phase, step, timer: startTimer(at), enteredAt: at, count: 0, restSeconds };
}

const work = (state, at) => fresh(state, "WORK", state.step, at);
const paused = (state, at) => ({ ...state, timer: pauseTimer(state.timer, at) });
const resumed = (state, at) => ({ ...state, timer: resumeTimer(state.timer, at) });
const rested = (state, by) => ({ ...state, restSeconds: Math.max(0, state.restSeconds + by) });

/** Let the clock do what is due by `at`, however long ago: sets that ran out, rests that are over. */
function settle(script, state, at, effects) {
  if (state.timer.pausedAt !== null || !isTimed(script.steps, state)) return { state, effects };
  const run = elapsed(state.timer, at);
  if (isResting(state)) {
    if (run < state.restSeconds * 1000) return { state, effects };
    const wasAway = at - state.seenAt > GAP_MS;
    const over = endOf(state.timer, state.restSeconds * 1000);
    return { state: wasAway ? fresh(state, "READY", state.step, at) : work(state, over), effects };
  }
  const { item, set } = script.steps[state.step];
  const length = totalSeconds(segmentsOf(item, set)) * 1000;
  if (run < length) return { state, effects };
  const done = finish(script, state, endOf(state.timer, length));
  return settle(script, done.state, at, [...effects, ...done.effects]);
}

/** What is done of the set under way: null while nothing has been, then it is done as planned or not at all. */
export function amountSoFar(steps, state, at) {
  const { item, set } = steps[state.step];
  const segments = segmentsOf(item, set);
  if (!segments) return state.count > 0 ? { ...plannedAmount(set), repetitions: state.count } : null;
  const amount = amountAt(item, set, segments, elapsed(state.timer, at));
  return Object.values(amount).some((value) => value > 0) ? amount : null;
}

function finish(script, state, at) {
  const planned = plannedAmount(script.steps[state.step].set);
  const amount = amountSoFar(script.steps, state, at) ?? planned;
  const isWhole = Object.keys(planned).every((name) => (amount[name] ?? 0) >= (planned[name] ?? 0));
  return record(script, state, at, { state: isWhole ? "DONE" : "PARTLY", ...amount });
}

/** That is enough: what was done of the set under way is kept, the sets not begun stay open. */
function enough(script, state, at) {
  if (state.phase === "END") return stay(state);
  const begun = state.phase === "WORK" && amountSoFar(script.steps, state, at) !== null;
  const kept = begun ? finish(script, state, at) : stay(state);
  const effects = kept.effects.filter((effect) => effect.type !== "END");
  return { state: fresh(kept.state, "END", state.step, at), effects: [...effects, { type: "END" }] };
}

function record(script, state, at, logged, then = null) {
  const { item, set } = script.steps[state.step];
  const key = script.newKey();
  const results = state.results.slice();
  results[state.step] = { ...logged, key };
  const named = { prescription: item.prescription, number: set.number, side: set.side };
  const log = { type: "LOG", key, set: { ...named, ...logged, occurred_at: at } };
  const next = nextOpen(script.steps, results, state.step);
  if (next === null) {
    return { state: fresh({ ...state, results }, "END", state.step, at), effects: [log, { type: "END" }] };
  }
  const [phase, seconds] = then ? [then, 0] : between(script.steps, state.step, next);
  return { state: fresh({ ...state, results }, phase, next, at, seconds), effects: [log] };
}

/** What stands between two sets: a rest, a change of side, or a new exercise that waits for a tap. */
function between(steps, from, to) {
  const [last, next] = [steps[from], steps[to]];
  if (last.place !== next.place) return ["READY", 0];
  const rest = next.item.rest_seconds ?? 0;
  if (last.set.side !== next.set.side) return ["SIDE", Math.max(rest, SIDE_SECONDS)];
  return rest > 0 ? ["REST", rest] : ["WORK", 0];
}

/** One set back: begin the one under way again, or take back the one before. */
function back({ steps }, state, at) {
  if (state.phase === "WORK") return stay(fresh(state, "READY", state.step, at));
  const before = lastDone(steps, state);
  if (before < 0) return stay(state);
  const results = state.results.slice();
  const { key } = results[before];
  results[before] = null;
  return { state: fresh({ ...state, results }, "READY", before, at), effects: [{ type: "UNDO", key }] };
}

/** The place of the set that going back would take back, -1 when there is none. */
export function lastDone(steps, state) {
  const from = state.phase === "END" ? steps.length : state.step;
  return steps.findLastIndex((one, place) => place < from && !one.item.is_stopped && state.results[place] !== null);
}

/** The first set that is still to do, looking on from `after` and then from the beginning; else null. */
function nextOpen(steps, results, after) {
  const isOpen = (one, place) => results[place] === null && !one.item.is_stopped;
  const on = steps.findIndex((one, place) => place > after && isOpen(one, place));
  if (on >= 0) return on;
  const early = steps.findIndex(isOpen);
  return early < 0 ? null : early;
}
