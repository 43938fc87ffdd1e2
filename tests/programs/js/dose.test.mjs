/* The worked examples of fixtures/cases/doses.json, through the arithmetic of the browser. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

const here = new URL(".", import.meta.url);
const source = readFileSync(new URL("../../../programs/static/programs/js/dose.js", here), "utf8");
const dose = await import(`data:text/javascript,${encodeURIComponent(source)}`);
const cases = JSON.parse(readFileSync(new URL("../../../fixtures/cases/doses.json", here), "utf8"));

for (const example of cases.doses) {
  test(example.name, () => {
    const { seconds, minutes, ...week } = example.expected;
    assert.deepEqual(example.doses.map(dose.exerciseSeconds), seconds);
    assert.equal(dose.sessionMinutes(example.doses), minutes);
    assert.deepEqual(dose.weeklyDose(example.doses, example.sessions_per_week), week);
  });
}

for (const example of cases.schedules) {
  test(`sessions a week: ${example.name}`, () => {
    assert.equal(dose.sessionsPerWeek(example.given), example.sessions_per_week);
  });
}

test("a schedule that is not complete has no sessions a week yet", () => {
  assert.equal(dose.sessionsPerWeek({ pattern: "EVERY_N_DAYS", times_per_day: 1 }), null);
  assert.equal(dose.sessionsPerWeek({ pattern: "WEEKLY_QUOTA" }), null);
  assert.equal(dose.sessionsPerWeek({ pattern: "" }), null);
});
