/* What the stage shows of a state at a moment: numbers and codes, no words and no page. Pure. */
import { elapsed, secondsLeft, segmentAt } from "./countdown.js";
import { amountSoFar, isResting, lastDone, stepsOf } from "./session-machine.js";
import { segmentsOf, shareOf } from "./set-work.js";

const LOW = 0.34; // how high the water stands, as a share of the screen
const CALM = 0.46;
const FULL = 0.78;

/**
 * { phase, isPaused, item, set, exercise, exercises, setNumber, setCount, cue, side, repetition, number, of, level,
 *   cups, main, soFar, canGoBack, canTurn }
 * cue: READY, LEAD, OUT, STILL, BACK, HOLD, MOVE, CHANGE, COUNT, REST, SIDE, END; main: BEGIN, COUNT, PAUSE, RESUME, GO_ON
 */
export function lookAt(plan, state, at) {
  const steps = stepsOf(plan);
  const { item, set, place } = steps[state.step];
  const isPaused = state.timer.pausedAt !== null;
  const soFar = state.phase === "WORK" ? amountSoFar(steps, state, at) : null;
  const shown = state.phase === "WORK" ? working(item, set, state, at) : waiting(item, set, state, at);
  return {
    phase: state.phase,
    isPaused,
    item,
    set,
    exercise: place + 1,
    exercises: plan.items.length,
    setNumber: set.number,
    setCount: Math.max(...item.sets.map((one) => one.number)),
    side: set.side,
    ...shown,
    main: isPaused ? "RESUME" : shown.main,
    cups: cupsOf(steps, state, place, soFar ? shareOf(set, soFar) : 0),
    soFar,
    canGoBack: state.phase === "WORK" || lastDone(steps, state) >= 0,
    canTurn: isResting(state),
  };
}

function waiting(item, set, state, at) {
  const target = set.repetitions ?? set.hold_seconds ?? set.duration_seconds;
  const of = set.repetitions ? "REPETITIONS" : "SECONDS";
  if (!isResting(state)) return { cue: state.phase, number: target, of, level: CALM, main: "BEGIN" };
  const run = elapsed(state.timer, at);
  const left = secondsLeft(state.restSeconds, run);
  const share = state.restSeconds ? Math.min(1, run / 1000 / state.restSeconds) : 1;
  return { cue: state.phase, number: left, of: "SECONDS", level: FULL - (FULL - LOW) * share, main: "GO_ON" };
}

function working(item, set, state, at) {
  const segments = segmentsOf(item, set);
  if (!segments) {
    const share = Math.min(1, state.count / set.repetitions);
    return { cue: "COUNT", number: state.count, of: "REPETITIONS", level: LOW + (FULL - LOW) * share, main: "COUNT" };
  }
  const last = segments[segments.length - 1];
  const place = segmentAt(segments, elapsed(state.timer, at)) ?? { segment: last, into: last.seconds, left: 0 };
  const { segment, into, left } = place;
  const share = Math.min(1, into / segment.seconds);
  const counts = segment.kind === "OUT" || segment.kind === "STILL" || segment.kind === "BACK";
  return {
    cue: segment.kind,
    side: segment.side,
    repetition: segment.repetition,
    number: counts ? segment.repetition : left,
    of: counts ? "REPETITIONS" : "SECONDS",
    level: levelOf(segment.kind, share),
    main: "PAUSE",
  };
}

/** The water rises on the way out and through a hold, and falls on the way back. */
function levelOf(kind, share) {
  if (kind === "OUT" || kind === "HOLD" || kind === "MOVE") return LOW + (FULL - LOW) * share;
  if (kind === "BACK" || kind === "CHANGE") return FULL - (FULL - LOW) * share;
  return kind === "STILL" ? FULL : LOW;
}

function cupsOf(steps, state, place, share) {
  return steps.flatMap((one, index) => {
    if (one.place !== place) return [];
    const result = state.results[index];
    const side = one.set.side;
    if (result?.state === "SKIPPED") return [{ state: "SKIPPED", share: 0, side }];
    if (result) return [{ state: "DONE", share: result.state === "DONE" ? 1 : shareOf(one.set, result), side }];
    const isNow = index === state.step && state.phase !== "END";
    return [{ state: isNow ? "NOW" : "NEXT", share: isNow ? share : 0, side }];
  });
}
