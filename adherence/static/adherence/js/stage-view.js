/* Draws what `lookAt` says onto the stage of the page. Words come from the page, in the reader's language. */

const SVG = "http://www.w3.org/2000/svg";

export function createStage(page) {
  const words = readWords(page.getElementById("stage-words"));
  const fragment = page.getElementById("stage-template").content.cloneNode(true);
  const root = fragment.querySelector("[data-stage]");
  const part = (name) => root.querySelector(`[data-${name}]`);
  const action = (name) => root.querySelector(`[data-action="${name}"]`);
  let shownCups = "";
  let shownItem = null;

  function say(name, values = {}) {
    return Object.entries(values).reduce((text, [key, value]) => text.replace(`[${key}]`, value), words[name] ?? "");
  }

  function setLine(look) {
    const line = say("set", { number: look.setNumber, total: look.setCount });
    const side = words[`side-${look.side}`];
    return side ? `${line}, ${side}` : line;
  }

  function unitOf(look) {
    if (look.cue === "COUNT") return say("unit-of", { total: look.set.repetitions });
    if (look.of === "SECONDS") return words["unit-SECONDS"];
    if (look.cue !== "READY") return say("unit-of", { total: look.set.repetitions });
    if (look.set.hold_seconds) return say("unit-held", { seconds: look.set.hold_seconds });
    return words[look.set.side === "ALTERNATE" ? "unit-turn" : "unit-REPETITIONS"];
  }

  function cueOf(look) {
    if (look.isPaused) return words.paused;
    if (look.cue === "SIDE") return words[`now-${look.side}`] ?? words["cue-SIDE"];
    const cue = words[`cue-${look.cue}`];
    const turns = look.set.side === "ALTERNATE" && (look.side === "LEFT" || look.side === "RIGHT");
    return turns ? `${cue}, ${words[`side-${look.side}`]}` : cue;
  }

  function doneLabel(look) {
    if (!look.soFar) return words.done;
    const { repetitions, held_seconds: held, moved_seconds: moved } = look.soFar;
    if (look.set.repetitions) return say("done-times", { count: repetitions });
    return say("done-seconds", { count: held ?? moved });
  }

  function drawItem({ item, exercise, exercises }, addresses) {
    setText(part("name"), item.name);
    setText(part("place"), say("place", { number: exercise, total: exercises }));
    setText(part("say"), item.one_line);
    setText(part("keep"), item.keep_still_line);
    fill(part("ready"), item.note ? [item.note, ...item.set_up] : item.set_up);
    setText(part("how-name"), item.name);
    setText(part("how-note"), item.note);
    part("how-note").hidden = !item.note;
    fill(part("how-set-up"), item.set_up);
    fill(part("how-steps"), item.steps);
    setText(part("how-breathing"), item.breathing);
    setText(part("how-stop-if"), item.stop_if.join(" "));
    part("stop").href = addresses.stop[item.prescription];
  }

  function drawCups(look) {
    const key = JSON.stringify(look.cups);
    if (key === shownCups) return;
    shownCups = key;
    const done = look.cups.filter((cup) => cup.state === "DONE").length;
    part("cups").replaceChildren(cups(look.cups, say("cups", { done, total: look.cups.length })));
  }

  return {
    root,
    action,
    part,
    say,
    dialog: (name) => root.querySelector(`[data-dialog="${name}"]`),

    draw(look, addresses) {
      if (shownItem !== look.item) drawItem(look, addresses);
      shownItem = look.item;
      root.dataset.phase = look.phase;
      part("ready").hidden = look.phase !== "READY" || look.setNumber !== 1;
      part("tide").setAttribute("transform", `translate(0 ${Math.round(1000 - look.level * 1000)})`);
      setText(part("cue"), cueOf(look));
      setText(part("number"), look.phase === "END" ? "" : String(look.number));
      setText(part("unit"), look.phase === "END" ? "" : unitOf(look));
      setText(part("set"), look.canTurn ? say("next", { what: setLine(look) }) : setLine(look));
      setText(action("main"), look.phase === "END" ? words.saving : words[look.main]);
      action("main").disabled = look.phase === "END";
      setText(action("done"), doneLabel(look));
      action("done").hidden = look.phase !== "WORK";
      action("shorter").hidden = action("longer").hidden = !look.canTurn;
      action("back").disabled = !look.canGoBack || look.phase === "END";
      action("skip").disabled = action("enough").disabled = look.phase === "END";
      drawCups(look);
    },

    /** What a change of phase is for somebody who does not look. */
    sentence(look) {
      if (look.cue === "REST") return say("say-rest", { seconds: look.number });
      if (look.cue === "SIDE") return cueOf(look);
      if (look.cue === "READY") {
        return say("say-begin", { name: look.item.name, set: setLine(look), target: `${look.number} ${unitOf(look)}` });
      }
      return cueOf(look);
    },

    /** What still waits to be sent, and what could not be. */
    tellQueue({ waiting, refused, isSignedOut }, isLate) {
      const note = (name) => root.querySelector(`[data-note="${name}"]`);
      note("unsent").hidden = !(waiting && isLate);
      setText(note("unsent"), `${say("unsent", { count: waiting })}. ${words.wait}`);
      note("signed-out").hidden = !(waiting && isSignedOut);
      note("refused").hidden = refused.length === 0;
      action("send").hidden = !(waiting && isLate);
    },

    tellAwake(isHeld) {
      root.querySelector('[data-note="awake"]').hidden = isHeld;
    },

    tellSound(isOn) {
      action("sound").setAttribute("aria-pressed", String(isOn));
      root.querySelector('[data-sound="on"]').hidden = !isOn;
      root.querySelector('[data-sound="off"]').hidden = isOn;
    },
  };
}

function readWords(template) {
  const entries = [...template.content.querySelectorAll("[data-word]")];
  return Object.fromEntries(entries.map((one) => [one.dataset.word, one.textContent]));
}

/** Writes only what has changed, so that nothing is laid out again for nothing. */
function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

function fill(list, lines) {
  const rows = lines.map((line) => {
    const row = document.createElement("li");
    row.textContent = line;
    return row;
  });
  list.replaceChildren(...rows);
}

/** Sets as cups that fill, drawn as the server draws them. */
function cups(listed, label) {
  const svg = svgElement("svg", { class: "cups", role: "img", "aria-label": label });
  let x = 1;
  listed.forEach((cup, place) => {
    if (place > 0 && cup.side !== listed[place - 1].side) {
      svg.append(svgElement("path", { class: "cups__side", d: `M${x} 22h14` }));
      x += 22;
    }
    const height = cup.state === "NOW" ? 30 : 16;
    const water = (height - 2) * Math.min(1, Math.max(0, cup.share));
    const skipped = cup.state === "SKIPPED" ? " cups__cup--skipped" : "";
    svg.append(
      svgElement("rect", { class: "cups__water", x: x + 1, y: 34 - water, width: 26, height: water, rx: 3 }),
      svgElement("path", {
        class: `cups__cup${skipped}`,
        d: `M${x} ${35 - height}v${height - 5}a5 5 0 0 0 5 5h18a5 5 0 0 0 5-5v-${height - 5}z`,
      }),
    );
    x += 36;
  });
  svg.setAttribute("viewBox", `0 0 ${x - 6} 36`);
  return svg;
}

function svgElement(name, attributes) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  return element;
}
