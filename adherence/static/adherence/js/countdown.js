/* Time by the clock, never by counting ticks: right after a locked screen or five minutes in another tab.
   A timer is { since, pausedAt, away }, all in milliseconds of the same clock; every function returns a new one. */

export function startTimer(at) {
  return { since: at, pausedAt: null, away: 0 };
}

export function pauseTimer(timer, at) {
  return timer.pausedAt === null ? { ...timer, pausedAt: at } : timer;
}

export function resumeTimer(timer, at) {
  if (timer.pausedAt === null) return timer;
  return { ...timer, pausedAt: null, away: timer.away + Math.max(0, at - timer.pausedAt) };
}

/** Milliseconds that have run, pauses left out. Never below zero, should the clock be set back. */
export function elapsed(timer, at) {
  return Math.max(0, (timer.pausedAt ?? at) - timer.since - timer.away);
}

/** The instant at which `run` milliseconds of a running timer are over. */
export function endOf(timer, run) {
  return timer.since + timer.away + run;
}

/** Whole seconds to show: 20 stands for the first second of twenty, 0 only when all is over. */
export function secondsLeft(total, run) {
  return Math.max(0, Math.ceil(total - run / 1000 - 1e-9));
}

export function totalSeconds(segments) {
  return segments.reduce((sum, segment) => sum + segment.seconds, 0);
}

/**
 * Where in a row of segments ({ seconds, … }) a timer stands after `run` milliseconds:
 * { index, segment, into, left } in seconds, or null when all of them are over.
 */
export function segmentAt(segments, run) {
  let from = 0;
  for (const [index, segment] of segments.entries()) {
    const until = from + segment.seconds * 1000;
    if (run < until) {
      return { index, segment, into: (run - from) / 1000, left: secondsLeft(segment.seconds, run - from) };
    }
    from = until;
  }
  return null;
}
