/* Sends logs in their order, one at a time, again and again until the server has answered.
   In memory only: nothing about a person's health is left behind in the browser.

   job     { id, send }: send() resolves to { ok, status } and rejects when no answer came
   options wait(ms) resolves later; changed(state) is told { waiting, refused, isSignedOut } */

const FIRST_WAIT_MS = 2000;
const LONGEST_WAIT_MS = 60000;
const TRY_AGAIN = new Set([408, 425, 429]);

export function createQueue({ wait, changed = () => {} }) {
  const jobs = [];
  const refused = [];
  let isRunning = false;
  let isSignedOut = false;
  let hurry = () => {};
  let idle = [];

  const tell = () => changed({ waiting: jobs.length, refused: refused.slice(), isSignedOut });

  async function run() {
    if (isRunning) return;
    isRunning = true;
    let pause = FIRST_WAIT_MS;
    while (jobs.length > 0) {
      const verdict = await attempt(jobs[0]);
      if (verdict === "again") {
        tell();
        await Promise.race([wait(pause), new Promise((resolve) => (hurry = resolve))]);
        pause = Math.min(LONGEST_WAIT_MS, pause * 2);
        continue;
      }
      if (verdict === "refused") refused.push(jobs[0].id);
      jobs.shift();
      pause = FIRST_WAIT_MS;
      tell();
    }
    isRunning = false;
    for (const resolve of idle) resolve();
    idle = [];
  }

  async function attempt(job) {
    try {
      const { ok, status } = await job.send();
      isSignedOut = status === 401 || status === 403;
      if (ok) return "done";
      return isSignedOut || status >= 500 || TRY_AGAIN.has(status) ? "again" : "refused";
    } catch {
      return "again";
    }
  }

  return {
    /** Puts a job at the end; the same id is never put twice. */
    add(job) {
      if (jobs.some((one) => one.id === job.id)) return;
      jobs.push(job);
      tell();
      run();
    },
    /** Tries at once instead of at the end of the waiting time. */
    hurry: () => hurry(),
    get waiting() {
      return jobs.length;
    },
    /** Resolves when nothing waits any more. */
    emptied: () => (jobs.length === 0 && !isRunning ? Promise.resolve() : new Promise((resolve) => idle.push(resolve))),
  };
}
