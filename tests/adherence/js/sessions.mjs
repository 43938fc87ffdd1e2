/* Made-up sessions for the tests of the stage, and a hand that plays them on a clock of its own. */
import { advance, beginSession } from "../../../adherence/static/adherence/js/session-machine.js";

const EMPTY = { repetitions: null, hold_seconds: null, duration_seconds: null, logged: null };

export function aSet(number, side, amount) {
  return { ...EMPTY, number, side, ...amount };
}

export function anItem(prescription, kind, sets, more = {}) {
  return { prescription, name: prescription, kind, tempo: null, rest_seconds: 30, is_stopped: false, sets, ...more };
}

/** Two sets of three by tap, and one hold of ten seconds on each side. */
export function aPlan() {
  return {
    items: [
      anItem("bend", "REPETITIONS", [1, 2].map((number) => aSet(number, "BILATERAL", { repetitions: 3 }))),
      anItem("stand", "HOLD", ["LEFT", "RIGHT"].map((side) => aSet(1, side, { hold_seconds: 10 }))),
    ],
  };
}

/** Plays events against a plan; `at` is its clock in milliseconds, moved with `wait`. */
export function aPlayer(plan, at = 1_000_000) {
  let keys = 0;
  const player = {
    at,
    state: beginSession(plan, at),
    effects: [],
    wait(seconds) {
      player.at += seconds * 1000;
      return player;
    },
    do(...types) {
      for (const type of types) {
        const moved = advance(plan, player.state, { type, at: player.at }, () => `key ${(keys += 1)}`);
        player.state = moved.state;
        player.effects.push(...moved.effects);
      }
      return player;
    },
    /** Ticks each second for so long, as a page in sight does. */
    watch(seconds) {
      for (let second = 0; second < seconds; second += 1) player.wait(1).do("TICK");
      return player;
    },
    logs: () => player.effects.filter((effect) => effect.type === "LOG").map(({ key, set }) => ({ ...set, key })),
  };
  return player;
}

/** Numbers that look random and are the same in every run. */
export function dice(seed) {
  let value = seed;
  return (below) => {
    value = (Math.imul(value, 1664525) + 1013904223) >>> 0;
    return Math.floor((value / 2 ** 32) * below);
  };
}

/** A session of any shape that a program can have. */
export function anyPlan(roll) {
  const items = Array.from({ length: 1 + roll(3) }, (_, place) => {
    const kind = ["REPETITIONS", "HELD_REPETITIONS", "HOLD", "TIMED"][roll(4)];
    const sides = [["BILATERAL"], ["LEFT"], ["LEFT", "RIGHT"], ["ALTERNATE"]][roll(4)];
    const amount = {
      REPETITIONS: { repetitions: 1 + roll(5) },
      HELD_REPETITIONS: { repetitions: 1 + roll(4), hold_seconds: 1 + roll(8) },
      HOLD: { hold_seconds: 1 + roll(30) },
      TIMED: { duration_seconds: 1 + roll(60) },
    }[kind];
    const count = 1 + roll(3);
    const sets = sides.flatMap((side) => Array.from({ length: count }, (_one, number) => aSet(number + 1, side, amount)));
    const tempo = kind === "REPETITIONS" && roll(2) ? [1 + roll(3), roll(2), roll(3)] : null;
    return anItem(`item ${place}`, kind, sets, { tempo, rest_seconds: [0, 15, 60][roll(3)] });
  });
  return { items };
}
