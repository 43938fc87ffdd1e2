/* Short tones, made on the spot: no file to load. Silent until unlocked inside a tap, and by choice. */

const PATTERNS = {
  LEAD: [[523, 0, 0.09]],
  GO: [[784, 0, 0.22]],
  TURN: [[659, 0, 0.1]],
  OVER: [[784, 0, 0.12], [1047, 0.14, 0.24]],
  REST_OVER: [[659, 0, 0.12], [784, 0.14, 0.2]],
};

export function createTones({ Context = globalThis.AudioContext, isOn = true } = {}) {
  let context = null;
  let on = isOn;
  return {
    get isOn() {
      return on;
    },
    set isOn(value) {
      on = value;
    },
    /** Call it inside a tap: browsers let sound begin nowhere else. */
    unlock() {
      if (!Context) return;
      context ??= new Context();
      if (context.state !== "running") context.resume().catch(() => {});
    },
    play(name) {
      if (!on || context?.state !== "running") return;
      for (const [pitch, after, seconds] of PATTERNS[name]) playNote(context, pitch, context.currentTime + after, seconds);
    },
  };
}

function playNote(context, pitch, from, seconds) {
  const note = context.createOscillator();
  const volume = context.createGain();
  note.frequency.value = pitch;
  volume.gain.setValueAtTime(0, from);
  volume.gain.linearRampToValueAtTime(0.25, from + 0.01);
  volume.gain.exponentialRampToValueAtTime(0.001, from + seconds);
  note.connect(volume).connect(context.destination);
  note.start(from);
  note.stop(from + seconds + 0.02);
}
