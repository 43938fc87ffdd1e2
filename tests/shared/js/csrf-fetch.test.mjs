import assert from "node:assert/strict";
import test from "node:test";
import { csrfToken } from "../../../shared/static/design/js/csrf-fetch.js";

test("the token is read under the name that development gives it", () => {
  assert.equal(csrfToken("theme=dark; csrftoken=abc"), "abc");
});

test("the token is read under the name that a real deployment gives it", () => {
  assert.equal(csrfToken("theme=dark; __Host-csrftoken=abc"), "abc");
});

test("the cookie bound to this host goes before one that a neighbouring host may have set", () => {
  assert.equal(csrfToken("csrftoken=planted; __Host-csrftoken=own"), "own");
  assert.equal(csrfToken("__Host-csrftoken=own; csrftoken=planted"), "own");
});

test("no cookie, or one that is only called alike, is no token", () => {
  assert.equal(csrfToken(""), "");
  assert.equal(csrfToken("xcsrftoken=abc; csrftokens=abc"), "");
});
