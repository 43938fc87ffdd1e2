import assert from "node:assert/strict";
import test from "node:test";
import { createQueue } from "../../../adherence/static/adherence/js/send-queue.js";

const OK = { ok: true, status: 201 };
const answer = (status) => ({ ok: status < 400, status });

/** A queue whose waiting times are over at once, and what it was told. */
function aQueue() {
  const waits = [];
  const told = [];
  const queue = createQueue({ wait: (ms) => (waits.push(ms), Promise.resolve()), changed: (now) => told.push(now) });
  return { queue, waits, told };
}

test("jobs go out one at a time, in their order", async () => {
  const { queue, told } = aQueue();
  const sent = [];
  let open = 0;
  for (const id of ["a", "b", "c"]) {
    queue.add({ id, send: async () => {
      open += 1;
      assert.equal(open, 1);
      await Promise.resolve();
      sent.push(id);
      open -= 1;
      return OK;
    } });
  }
  await queue.emptied();
  assert.deepEqual(sent, ["a", "b", "c"]);
  assert.deepEqual(told.at(-1), { waiting: 0, refused: [], isSignedOut: false });
});

test("without an answer it tries again, each time later, and forgets nothing", async () => {
  const { queue, waits } = aQueue();
  let tries = 0;
  queue.add({ id: "a", send: async () => {
    tries += 1;
    if (tries < 4) throw new TypeError("no network");
    return OK;
  } });
  await queue.emptied();
  assert.equal(tries, 4);
  assert.deepEqual(waits, [2000, 4000, 8000]);
});

test("a busy or broken server is asked again, a refusal is set aside and shown", async () => {
  const { queue, told } = aQueue();
  const answers = { a: [503, 429, 201], b: [409], c: [201] };
  for (const id of Object.keys(answers)) queue.add({ id, send: async () => answer(answers[id].shift()) });
  await queue.emptied();
  assert.deepEqual(Object.values(answers).flat(), []);
  assert.deepEqual(told.at(-1).refused, ["b"]);
});

test("signed out: the job waits and the page is told", async () => {
  const { queue, told } = aQueue();
  const answers = [403, 201];
  queue.add({ id: "a", send: async () => answer(answers.shift()) });
  await queue.emptied();
  assert.ok(told.some((now) => now.isSignedOut && now.waiting === 1));
  assert.equal(told.at(-1).isSignedOut, false);
});

test("coming online cuts the waiting time short", async () => {
  let tries = 0;
  const queue = createQueue({ wait: () => new Promise(() => {}) });
  queue.add({ id: "a", send: async () => {
    tries += 1;
    if (tries === 1) throw new TypeError("no network");
    return OK;
  } });
  await new Promise((resolve) => setImmediate(resolve));
  assert.equal(queue.waiting, 1);
  queue.hurry();
  await queue.emptied();
  assert.equal(tries, 2);
});

test("the same job is put once", async () => {
  const { queue } = aQueue();
  let tries = 0;
  const send = async () => {
    tries += 1;
    return OK;
  };
  queue.add({ id: "a", send });
  queue.add({ id: "a", send });
  await queue.emptied();
  assert.equal(tries, 1);
});
