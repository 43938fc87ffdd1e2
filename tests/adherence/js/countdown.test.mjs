import assert from "node:assert/strict";
import test from "node:test";
import {
  elapsed,
  endOf,
  pauseTimer,
  resumeTimer,
  secondsLeft,
  segmentAt,
  startTimer,
  totalSeconds,
} from "../../../adherence/static/adherence/js/countdown.js";

const SEGMENTS = [{ kind: "LEAD", seconds: 3 }, { kind: "HOLD", seconds: 20 }];

test("a timer runs with the clock, whatever happened in between", () => {
  const timer = startTimer(5000);
  assert.equal(elapsed(timer, 5000), 0);
  assert.equal(elapsed(timer, 5000 + 300_000), 300_000);
});

test("a pause does not count, and pausing twice is one pause", () => {
  const paused = pauseTimer(pauseTimer(startTimer(0), 4000), 9000);
  assert.equal(elapsed(paused, 60_000), 4000);
  const on = resumeTimer(paused, 64_000);
  assert.equal(elapsed(on, 65_000), 5000);
  assert.equal(endOf(on, 20_000), 80_000);
  assert.equal(resumeTimer(on, 70_000), on);
});

test("a clock that is set back does not make time negative", () => {
  assert.equal(elapsed(startTimer(10_000), 2000), 0);
  assert.equal(resumeTimer(pauseTimer(startTimer(0), 5000), 1000).away, 0);
});

test("the full number stands for its first second, and 0 for the end alone", () => {
  assert.deepEqual([0, 1, 999, 1000, 19_999, 20_000, 25_000].map((run) => secondsLeft(20, run)), [20, 20, 20, 19, 1, 0, 0]);
});

test("segments follow one another without a gap", () => {
  assert.equal(totalSeconds(SEGMENTS), 23);
  const place = (run) => {
    const found = segmentAt(SEGMENTS, run);
    return found && [found.segment.kind, found.left];
  };
  assert.deepEqual([0, 2999, 3000, 22_999, 23_000].map(place), [["LEAD", 3], ["LEAD", 1], ["HOLD", 20], ["HOLD", 1], null]);
});
