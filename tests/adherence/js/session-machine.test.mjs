import assert from "node:assert/strict";
import test from "node:test";
import { beginSession, stepsOf } from "../../../adherence/static/adherence/js/session-machine.js";
import { anItem, aPlan, aPlayer, anyPlan, aSet, dice } from "./sessions.mjs";

const brief = (set) => [set.prescription, set.number, set.side, set.state, set.repetitions ?? set.held_seconds ?? set.moved_seconds];

test("a session from the first tap to the last", () => {
  const player = aPlayer(aPlan());
  assert.equal(player.state.phase, "READY");
  player.do("MAIN").wait(2).do("MAIN").wait(1).do("MAIN").wait(1).do("MAIN");
  assert.equal(player.state.phase, "REST");
  player.watch(30);
  assert.equal(player.state.phase, "WORK", "a rest goes over into the next set");
  player.do("DONE").wait(1).do("DONE");
  assert.equal(player.state.phase, "READY", "another exercise waits for a tap");
  player.wait(2).do("MAIN").watch(13);
  assert.equal(player.state.phase, "SIDE");
  player.watch(30 + 13);
  assert.equal(player.state.phase, "END");
  assert.deepEqual(player.logs().map(brief), [
    ["bend", 1, "BILATERAL", "DONE", 3],
    ["bend", 2, "BILATERAL", "DONE", 3],
    ["stand", 1, "LEFT", "DONE", 10],
    ["stand", 1, "RIGHT", "DONE", 10],
  ]);
  assert.equal(player.effects.at(-1).type, "END");
  assert.equal(new Set(player.logs().map((set) => set.key)).size, 4);
});

test("a double tap acts once", () => {
  const player = aPlayer(aPlan()).wait(1).do("MAIN").wait(1).do("DONE").wait(0.1).do("DONE", "MAIN");
  assert.equal(player.logs().length, 1);
  assert.equal(player.state.phase, "REST", "the second tap does not cut the rest");
});

test("less than planned is partly done, and nothing counted is done as planned", () => {
  const partly = aPlayer(aPlan()).do("MAIN").wait(1).do("MAIN").wait(1).do("DONE");
  assert.deepEqual(brief(partly.logs()[0]), ["bend", 1, "BILATERAL", "PARTLY", 1]);
  const whole = aPlayer(aPlan()).do("MAIN").wait(30).do("DONE");
  assert.deepEqual(brief(whole.logs()[0]), ["bend", 1, "BILATERAL", "DONE", 3]);
});

test("five minutes in the background: the hold ended when it ended, and the next set waits", () => {
  const plan = { items: [anItem("hold", "HOLD", [1, 2].map((number) => aSet(number, "LEFT", { hold_seconds: 20 })))] };
  const player = aPlayer(plan).do("MAIN");
  const began = player.at;
  player.wait(300).do("TICK");
  assert.deepEqual(player.logs().map((set) => [set.number, set.occurred_at]), [[1, began + 23_000]]);
  assert.equal(player.state.phase, "READY");
  assert.equal(player.state.step, 1);
});

test("a tap that comes back from the background does not start what it has not seen", () => {
  const plan = { items: [anItem("hold", "HOLD", [1, 2].map((number) => aSet(number, "LEFT", { hold_seconds: 20 })))] };
  const player = aPlayer(plan).do("MAIN").wait(300).do("MAIN");
  assert.equal(player.state.phase, "READY");
});

test("a pause stops the clock of work and of rest", () => {
  const plan = { items: [anItem("hold", "HOLD", [1, 2].map((number) => aSet(number, "LEFT", { hold_seconds: 20 })))] };
  const player = aPlayer(plan).do("MAIN").watch(10).do("MAIN").wait(500).do("TICK");
  assert.equal(player.logs().length, 0);
  player.do("MAIN").watch(12);
  assert.equal(player.state.phase, "WORK");
  player.watch(1);
  assert.equal(player.state.phase, "REST");
  player.do("PAUSE").watch(60);
  assert.equal(player.state.phase, "REST");
  player.do("RESUME").watch(30);
  assert.equal(player.state.phase, "WORK");
});

test("a rest can be lengthened, shortened and cut", () => {
  const rest = () => aPlayer(aPlan()).do("MAIN").wait(1).do("DONE").wait(1);
  assert.equal(rest().do("LONGER").watch(40).state.phase, "REST");
  assert.equal(rest().do("SHORTER").watch(15).state.phase, "WORK");
  assert.equal(rest().do("MAIN").state.phase, "WORK");
});

test("skipping notes the set and waits for a tap", () => {
  const player = aPlayer(aPlan()).do("SKIP");
  assert.deepEqual(brief(player.logs()[0]), ["bend", 1, "BILATERAL", "SKIPPED", null]);
  assert.deepEqual([player.state.phase, player.state.step], ["READY", 1]);
});

test("going back takes the last set back under its own key, and does it again", () => {
  const player = aPlayer(aPlan()).do("MAIN").wait(1).do("DONE").wait(1).do("BACK");
  assert.deepEqual(player.effects.at(-1), { type: "UNDO", key: player.logs()[0].key });
  assert.deepEqual([player.state.phase, player.state.step], ["READY", 0]);
  player.wait(1).do("MAIN").wait(1).do("DONE");
  assert.notEqual(player.logs()[1].key, player.logs()[0].key);
  assert.equal(player.state.step, 1);
});

test("going back while working begins the same set again and takes nothing back", () => {
  const player = aPlayer(aPlan()).do("MAIN").wait(1).do("MAIN", "BACK");
  assert.deepEqual([player.state.phase, player.state.step, player.state.count], ["READY", 0, 0]);
  assert.deepEqual(player.effects, []);
  assert.equal(aPlayer(aPlan()).do("BACK").state.phase, "READY");
});

test("that is enough keeps what was done of the set under way", () => {
  const player = aPlayer(aPlan()).do("MAIN").wait(1).do("MAIN", "ENOUGH");
  assert.deepEqual(player.logs().map(brief), [["bend", 1, "BILATERAL", "PARTLY", 1]]);
  assert.deepEqual(player.effects.map((effect) => effect.type), ["LOG", "END"]);
  const nothing = aPlayer(aPlan()).do("MAIN").wait(1).do("ENOUGH", "ENOUGH");
  assert.deepEqual(nothing.effects, [{ type: "END" }]);
});

test("a stopped exercise is left out, and a logged set is not done again", () => {
  const plan = aPlan();
  plan.items[0].is_stopped = true;
  plan.items[1].sets[0].logged = { key: "earlier", state: "DONE", held_seconds: 10 };
  assert.equal(beginSession(plan, 0).step, 3);
  const player = aPlayer(plan).do("BACK");
  assert.deepEqual(player.effects, [{ type: "UNDO", key: "earlier" }]);
  assert.equal(player.do("BACK").effects.length, 1, "what is stopped stays as it is");
});

test("a session with nothing left is at its end", () => {
  const plan = aPlan();
  for (const item of plan.items) item.is_stopped = true;
  const player = aPlayer(plan);
  assert.equal(player.state.phase, "END");
  assert.deepEqual(player.do("MAIN", "SKIP", "DONE", "ENOUGH", "TICK").effects, []);
});

const HANDS = ["MAIN", "DONE", "SKIP", "BACK", "LONGER", "SHORTER", "PAUSE", "RESUME", "TICK", "ENOUGH"];

/** The plan as the server gives it after a reload: with what has been logged and not taken back. */
function reloaded(plan, player) {
  const kept = new Map();
  for (const effect of player.effects) {
    if (effect.type === "LOG") kept.set(effect.key, effect.set);
    if (effect.type === "UNDO") kept.delete(effect.key);
  }
  const logged = (item, set) =>
    [...kept.values()].find((one) => one.prescription === item.prescription && one.number === set.number && one.side === set.side) ?? null;
  return { items: plan.items.map((item) => ({ ...item, sets: item.sets.map((set) => ({ ...set, logged: logged(item, set) })) })) };
}

test("whatever is tapped, each set is logged once, and a reload goes on where it was", () => {
  for (let seed = 1; seed <= 300; seed += 1) {
    const roll = dice(seed);
    const plan = anyPlan(roll);
    const player = aPlayer(plan);
    for (let move = 0; move < 60; move += 1) {
      player.wait(roll(40)).do(HANDS[roll(roll(8) ? HANDS.length - 1 : HANDS.length)]);
    }
    const again = reloaded(plan, player);
    const states = (one) => one.map((result) => result && result.state);
    assert.deepEqual(states(beginSession(again, player.at).results), states(player.state.results), `seed ${seed}`);
    const last = aPlayer(again, player.at);
    for (let turn = 0; last.state.phase !== "END"; turn += 1) {
      assert.ok(turn < 5000, `seed ${seed} does not end`);
      last.wait(1).do(last.state.phase === "READY" ? "MAIN" : "TICK");
      if (last.state.phase === "WORK") last.wait(1).do("DONE");
    }
    assert.ok(last.state.results.every(Boolean), `seed ${seed} has left a set`);
    assert.equal(last.logs().length, stepsOf(again).filter(({ set }) => !set.logged).length, `seed ${seed}`);
  }
});

test("what is logged is never more than was planned", () => {
  for (let seed = 1; seed <= 300; seed += 1) {
    const roll = dice(seed);
    const plan = anyPlan(roll);
    const player = aPlayer(plan);
    for (let move = 0; move < 40; move += 1) player.wait(roll(30)).do(HANDS[roll(HANDS.length)]);
    for (const log of player.logs()) {
      const { set } = stepsOf(plan).find(
        (one) => one.item.prescription === log.prescription && one.set.number === log.number && one.set.side === log.side,
      );
      assert.ok((log.repetitions ?? 0) <= (set.repetitions ?? 0), `seed ${seed}`);
      assert.ok((log.held_seconds ?? 0) <= (set.hold_seconds ?? 0), `seed ${seed}`);
      assert.ok((log.moved_seconds ?? 0) <= (set.duration_seconds ?? 0), `seed ${seed}`);
      assert.ok(log.occurred_at <= player.at);
    }
  }
});
