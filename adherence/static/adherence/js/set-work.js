/* What one set consists of in time, and what has been done of it at a moment. Pure. */
import { segmentAt, totalSeconds } from "./countdown.js";

export const LEAD_SECONDS = 3; // to get into position after the tap
const CHANGE_SECONDS = 4; // from one side to the other inside an alternating set
const INTO_HOLD = 2; // a held repetition is moved into and out of: 4 seconds together
const OUT_OF_HOLD = 2;

/**
 * The segments of a set: { kind, seconds, side, repetition }, or null where repetitions have no tempo
 * and are counted by taps. Kinds: LEAD, OUT, STILL, BACK, HOLD, MOVE, CHANGE.
 */
export function segmentsOf(item, set) {
  const lead = { kind: "LEAD", seconds: LEAD_SECONDS, side: set.side, repetition: 0 };
  if (item.kind === "TIMED") {
    return [lead, { kind: "MOVE", seconds: set.duration_seconds, side: set.side, repetition: 0 }];
  }
  const sides = set.side === "ALTERNATE" ? ["LEFT", "RIGHT"] : [set.side];
  if (item.kind === "HOLD") return [lead, ...holds(set, sides)];
  if (item.kind === "REPETITIONS" && !item.tempo) return null;
  const one = item.kind === "REPETITIONS" ? tempoParts(item.tempo) : heldParts(set);
  const segments = [lead];
  for (let repetition = 1; repetition <= set.repetitions; repetition += 1) {
    for (const side of sides) segments.push(...one.map((part) => ({ ...part, side, repetition })));
  }
  return segments;
}

function holds(set, sides) {
  return sides.flatMap((side, place) => {
    const hold = { kind: "HOLD", seconds: set.hold_seconds, side, repetition: 0 };
    return place === 0 ? [hold] : [{ kind: "CHANGE", seconds: CHANGE_SECONDS, side, repetition: 0 }, hold];
  });
}

function tempoParts([out, still, back]) {
  const parts = [
    { kind: "OUT", seconds: out },
    { kind: "STILL", seconds: still },
    { kind: "BACK", seconds: back },
  ];
  return parts.filter((part) => part.seconds > 0);
}

function heldParts(set) {
  return [
    { kind: "OUT", seconds: INTO_HOLD },
    { kind: "HOLD", seconds: set.hold_seconds },
    { kind: "BACK", seconds: OUT_OF_HOLD },
  ];
}

/** What a whole set is in the log. */
export function plannedAmount(set) {
  return {
    repetitions: set.repetitions,
    held_seconds: set.hold_seconds,
    moved_seconds: set.duration_seconds,
  };
}

/** What is done of a timed set after `run` milliseconds, in the numbers of the log. */
export function amountAt(item, set, segments, run) {
  if (run >= totalSeconds(segments) * 1000) return plannedAmount(set);
  const nothing = { repetitions: null, held_seconds: null, moved_seconds: null };
  const place = segmentAt(segments, run);
  if (item.kind === "TIMED") return { ...nothing, moved_seconds: secondsIn(segments, place, "MOVE") };
  if (item.kind === "HOLD") {
    const turns = set.side === "ALTERNATE" ? 2 : 1;
    return { ...nothing, held_seconds: Math.floor(secondsIn(segments, place, "HOLD") / turns) };
  }
  const repetitions = Math.max(0, place.segment.repetition - 1);
  return { ...nothing, repetitions, held_seconds: repetitions ? set.hold_seconds : null };
}

function secondsIn(segments, place, kind) {
  let sum = 0;
  for (const [index, segment] of segments.entries()) {
    if (segment.kind !== kind || index > place.index) continue;
    sum += index < place.index ? segment.seconds : Math.floor(place.into);
  }
  return sum;
}

/** The share of a set that an amount is, 0 to 1, for the water in its cup. */
export function shareOf(set, amount) {
  const parts = [
    [amount.repetitions, set.repetitions],
    [amount.held_seconds, set.repetitions ? null : set.hold_seconds],
    [amount.moved_seconds, set.duration_seconds],
  ];
  return parts.reduce((share, [done, planned]) => (planned ? share * Math.min(1, (done ?? 0) / planned) : share), 1);
}
