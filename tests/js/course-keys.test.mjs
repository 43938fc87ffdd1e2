import assert from "node:assert/strict";
import test from "node:test";

import { dayAfter } from "../../adherence/static/adherence/js/course-keys.js";

test("arrows go a day, pages a week, Home and End to the edges", () => {
  assert.equal(dayAfter({ key: "ArrowRight" }, 3, 14), 4);
  assert.equal(dayAfter({ key: "ArrowLeft" }, 3, 14), 2);
  assert.equal(dayAfter({ key: "PageDown" }, 3, 14), 10);
  assert.equal(dayAfter({ key: "PageUp" }, 9, 14), 2);
  assert.equal(dayAfter({ key: "Home" }, 9, 14), 0);
  assert.equal(dayAfter({ key: "End" }, 9, 14), 13);
});

test("nothing goes over the edge", () => {
  assert.equal(dayAfter({ key: "ArrowLeft" }, 0, 14), 0);
  assert.equal(dayAfter({ key: "PageDown" }, 12, 14), 13);
  assert.equal(dayAfter({ key: "PageUp" }, 2, 1), 0);
});

test("other keys and combinations are not for us", () => {
  assert.equal(dayAfter({ key: "Enter" }, 3, 14), -1);
  assert.equal(dayAfter({ key: "Tab" }, 3, 14), -1);
  assert.equal(dayAfter({ key: "ArrowLeft", altKey: true }, 3, 14), -1);
  assert.equal(dayAfter({ key: "End", ctrlKey: true }, 3, 14), -1);
});
