import assert from "node:assert/strict";
import test from "node:test";

import { actionOf, rowAfter } from "../../adherence/static/adherence/js/caseload-keys.js";

const pressed = (key, more = {}) => ({ key, target: { tagName: "A" }, ...more });

test("arrows move, letters act", () => {
  assert.equal(actionOf(pressed("ArrowDown"), true), "down");
  assert.equal(actionOf(pressed("ArrowUp"), false), "up");
  assert.equal(actionOf(pressed("c"), true), "c");
  assert.equal(actionOf(pressed("D"), true), "d");
  assert.equal(actionOf(pressed("p"), true), "p");
});

test("letters rest when they are switched off, held down, or not ours", () => {
  assert.equal(actionOf(pressed("c"), false), "");
  assert.equal(actionOf(pressed("c", { repeat: true }), true), "");
  assert.equal(actionOf(pressed("x"), true), "");
  assert.equal(actionOf(pressed("Enter"), true), "");
  assert.equal(actionOf(pressed("é"), true), "");
  assert.equal(actionOf({ target: null }, true), "");
});

test("what is typed into a field is not for us", () => {
  for (const tagName of ["INPUT", "TEXTAREA", "SELECT"]) {
    assert.equal(actionOf(pressed("c", { target: { tagName } }), true), "");
    assert.equal(actionOf(pressed("ArrowDown", { target: { tagName } }), true), "");
  }
  assert.equal(actionOf(pressed("c", { target: { tagName: "DIV", isContentEditable: true } }), true), "");
  assert.equal(actionOf(pressed("c", { isComposing: true }), true), "");
});

test("the browser's own combinations stay the browser's", () => {
  for (const held of ["altKey", "ctrlKey", "metaKey", "defaultPrevented"]) {
    assert.equal(actionOf(pressed("c", { [held]: true }), true), "");
    assert.equal(actionOf(pressed("ArrowDown", { [held]: true }), true), "");
  }
});

test("rows stay within the list", () => {
  assert.equal(rowAfter(-1, "down", 3), 0);
  assert.equal(rowAfter(-1, "up", 3), 0);
  assert.equal(rowAfter(0, "up", 3), 0);
  assert.equal(rowAfter(0, "down", 3), 1);
  assert.equal(rowAfter(2, "down", 3), 2);
});
