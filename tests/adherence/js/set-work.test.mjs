import assert from "node:assert/strict";
import test from "node:test";
import { totalSeconds } from "../../../adherence/static/adherence/js/countdown.js";
import { amountAt, LEAD_SECONDS, segmentsOf, shareOf } from "../../../adherence/static/adherence/js/set-work.js";
import { anItem, aSet, anyPlan, dice } from "./sessions.mjs";

const work = (kind, set, more) => {
  const item = anItem("one", kind, [set], more);
  return { item, set, segments: segmentsOf(item, set) };
};

test("repetitions without a tempo are counted by taps", () => {
  assert.equal(work("REPETITIONS", aSet(1, "LEFT", { repetitions: 8 })).segments, null);
});

test("a tempo paces each repetition, without the parts that take no time", () => {
  const { segments } = work("REPETITIONS", aSet(1, "BILATERAL", { repetitions: 2 }), { tempo: [2, 0, 3] });
  assert.deepEqual(segments.map((one) => [one.kind, one.seconds, one.repetition]), [
    ["LEAD", LEAD_SECONDS, 0], ["OUT", 2, 1], ["BACK", 3, 1], ["OUT", 2, 2], ["BACK", 3, 2],
  ]);
});

test("an alternating set does both sides: repetitions and holds are per side, a time is for both", () => {
  const sides = (kind, amount, more) =>
    work(kind, aSet(1, "ALTERNATE", amount), more).segments.filter((one) => one.kind === "OUT" || one.kind === "HOLD").map((one) => one.side);
  assert.deepEqual(sides("REPETITIONS", { repetitions: 2 }, { tempo: [1, 0, 1] }), ["LEFT", "RIGHT", "LEFT", "RIGHT"]);
  assert.deepEqual(sides("HOLD", { hold_seconds: 5 }), ["LEFT", "RIGHT"]);
  const { segments } = work("TIMED", aSet(1, "ALTERNATE", { duration_seconds: 60 }));
  assert.equal(totalSeconds(segments), LEAD_SECONDS + 60);
});

test("what is done of a hold is the seconds held, not the seconds since the tap", () => {
  const { item, set, segments } = work("HOLD", aSet(1, "LEFT", { hold_seconds: 20 }));
  const held = (run) => amountAt(item, set, segments, run).held_seconds;
  assert.deepEqual([0, 2900, 3000, 14_500, 22_999, 23_000, 400_000].map(held), [0, 0, 0, 11, 19, 20, 20]);
});

test("a repetition counts when it is over on both sides", () => {
  const { item, set, segments } = work("HELD_REPETITIONS", aSet(1, "ALTERNATE", { repetitions: 3, hold_seconds: 4 }));
  const counts = (seconds) => amountAt(item, set, segments, seconds * 1000).repetitions;
  // 3 to get ready, then 8 seconds a side.
  assert.deepEqual([3, 10, 12, 18, 20, 36, 51].map(counts), [0, 0, 0, 0, 1, 2, 3]);
});

test("a share is of what was planned, and no more than all of it", () => {
  const set = aSet(1, "LEFT", { repetitions: 10, hold_seconds: 5 });
  assert.equal(shareOf(set, { repetitions: 4, held_seconds: 5, moved_seconds: null }), 0.4);
  assert.equal(shareOf(set, { repetitions: 12, held_seconds: 5, moved_seconds: null }), 1);
});

test("over any set, what is done never falls and ends at the plan", () => {
  for (let seed = 1; seed <= 200; seed += 1) {
    const roll = dice(seed);
    const [item] = anyPlan(roll).items;
    const [set] = item.sets;
    const segments = segmentsOf(item, set);
    if (!segments) continue;
    let before = 0;
    for (let second = 0; second <= totalSeconds(segments); second += 1) {
      const share = shareOf(set, amountAt(item, set, segments, second * 1000));
      assert.ok(share >= before, `seed ${seed}, second ${second}`);
      before = share;
    }
    assert.equal(before, 1, `seed ${seed}`);
  }
});
