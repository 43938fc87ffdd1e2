import assert from "node:assert/strict";
import test from "node:test";
import { lookAt } from "../../../adherence/static/adherence/js/stage-look.js";
import { anItem, aPlan, aPlayer, anyPlan, aSet, dice } from "./sessions.mjs";

const look = (plan, player) => lookAt(plan, player.state, player.at);

test("before a set: the number to do and a button to begin", () => {
  const plan = aPlan();
  const shown = look(plan, aPlayer(plan));
  assert.deepEqual([shown.number, shown.of, shown.main, shown.cue], [3, "REPETITIONS", "BEGIN", "READY"]);
  assert.deepEqual(shown.cups.map((cup) => cup.state), ["NOW", "NEXT"]);
  assert.deepEqual([shown.exercise, shown.exercises, shown.setNumber, shown.setCount], [1, 2, 1, 2]);
  assert.equal(shown.canGoBack, false);
});

test("counting goes up, and the cup fills with it", () => {
  const plan = aPlan();
  const shown = look(plan, aPlayer(plan).do("MAIN").wait(1).do("MAIN", "MAIN"));
  assert.deepEqual([shown.number, shown.main], [2, "COUNT"]);
  assert.equal(shown.cups[0].share, 2 / 3);
});

test("a hold counts down, a pause keeps its number", () => {
  const plan = { items: [anItem("hold", "HOLD", [aSet(1, "LEFT", { hold_seconds: 20 })])] };
  const player = aPlayer(plan).do("MAIN");
  assert.deepEqual([look(plan, player).cue, look(plan, player).number], ["LEAD", 3]);
  player.watch(14);
  assert.deepEqual([look(plan, player).cue, look(plan, player).number, look(plan, player).main], ["HOLD", 9, "PAUSE"]);
  player.do("MAIN").wait(100);
  assert.deepEqual([look(plan, player).number, look(plan, player).main, look(plan, player).isPaused], [9, "RESUME", true]);
});

test("a rest says what comes next and can be changed", () => {
  const plan = aPlan();
  const shown = look(plan, aPlayer(plan).do("MAIN").wait(1).do("DONE").wait(1).do("LONGER"));
  assert.deepEqual([shown.cue, shown.number, shown.setNumber, shown.canTurn, shown.main], ["REST", 44, 2, true, "GO_ON"]);
});

test("an alternating set names the side of the moment", () => {
  const plan = { items: [anItem("hold", "HOLD", [aSet(1, "ALTERNATE", { hold_seconds: 10 })])] };
  const player = aPlayer(plan).do("MAIN").watch(5);
  assert.equal(look(plan, player).side, "LEFT");
  player.watch(10);
  assert.deepEqual([look(plan, player).cue, look(plan, player).side], ["CHANGE", "RIGHT"]);
});

test("every state can be shown: a number, and water inside the screen", () => {
  for (let seed = 1; seed <= 200; seed += 1) {
    const roll = dice(seed);
    const plan = anyPlan(roll);
    const player = aPlayer(plan);
    for (let move = 0; move < 40; move += 1) {
      player.wait(roll(20)).do(["MAIN", "DONE", "SKIP", "BACK", "PAUSE", "TICK", "LONGER"][roll(7)]);
      const shown = look(plan, player);
      assert.ok(Number.isInteger(shown.number) && shown.number >= 0, `seed ${seed}`);
      assert.ok(shown.level >= 0 && shown.level <= 1, `seed ${seed}`);
      assert.ok(shown.cups.every((cup) => cup.share >= 0 && cup.share <= 1), `seed ${seed}`);
    }
  }
});
