/* The arithmetic of a dose: how long a session takes and what a week adds up to.
   The same figures as the rules on the server; fixtures/cases/doses.json holds both to it. */

const SECONDS_PER_REPETITION = 4;
const CHANGEOVER_SECONDS = 20;

/** Rounds a half to the even whole number, as the server does for seconds. */
function roundEven(value) {
  const low = Math.floor(value);
  const rest = value - low;
  if (rest !== 0.5) return Math.round(value);
  return low % 2 === 0 ? low : low + 1;
}

/** Repetitions, seconds held and seconds moving of one planned set. */
function setWork(dose) {
  const turns = dose.side === "ALTERNATE" ? 2 : 1;
  if (dose.kind === "TIMED") return { repetitions: 0, held: 0, moving: dose.duration_seconds ?? 0 };
  if (dose.kind === "HOLD") return { repetitions: 0, held: (dose.hold_seconds ?? 0) * turns, moving: 0 };
  const repetitions = (dose.repetitions ?? 0) * turns;
  const pace = dose.tempo ? dose.tempo.reduce((sum, part) => sum + part, 0) : SECONDS_PER_REPETITION;
  return { repetitions, held: repetitions * (dose.hold_seconds ?? 0), moving: repetitions * pace };
}

/** How many sets of work there are: twice the sets where each side takes its turn. */
export function setCount(dose) {
  return dose.side === "BOTH" ? dose.sets * 2 : dose.sets;
}

/** Seconds of work and of the rests between sets. */
export function exerciseSeconds(dose) {
  const sets = setCount(dose);
  const { held, moving } = setWork(dose);
  return roundEven(sets * (held + moving) + Math.max(0, sets - 1) * dose.rest_seconds);
}

/** Minutes of a session, rounded up, with a changeover between two exercises. */
export function sessionMinutes(doses) {
  const work = doses.reduce((sum, dose) => sum + exerciseSeconds(dose), 0);
  return Math.ceil((work + CHANGEOVER_SECONDS * Math.max(0, doses.length - 1)) / 60);
}

/** Repetitions, seconds held, seconds moving and sets of a week, each to the nearest whole number. */
export function weeklyDose(doses, sessionsPerWeek) {
  const total = { repetitions: 0, hold_seconds: 0, moving_seconds: 0, sets: 0 };
  for (const dose of doses) {
    const count = setCount(dose);
    const { repetitions, held, moving } = setWork(dose);
    total.repetitions += count * repetitions;
    total.hold_seconds += count * held;
    total.moving_seconds += count * moving;
    total.sets += count;
  }
  for (const name of Object.keys(total)) total[name] = Math.floor(total[name] * sessionsPerWeek + 0.5);
  return total;
}

/** Sessions of an ordinary week; null while the numbers do not say it. */
export function sessionsPerWeek({ pattern, times_per_day, weekdays, every_days, weekly_quota }) {
  const days = {
    DAILY: 7,
    WEEKDAYS: weekdays?.length ?? 0,
    EVERY_N_DAYS: every_days ? 7 / every_days : null,
    WEEKLY_QUOTA: weekly_quota ?? null,
  }[pattern];
  if (days === undefined || days === null) return null;
  return days * (pattern === "WEEKLY_QUOTA" ? 1 : (times_per_day ?? 1));
}
