// The page: buttons into the world, and the world into words and pictures.
(() => {
  const at = (id) => document.getElementById(id);
  const source = at("play-data");
  if (!source || !at("run")) return;
  const data = JSON.parse(source.textContent);
  const W = data.words, N = data.names;
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const LONGEST_STEP_S = 2 * DAY_S, SLICE_S = 600, SLICE_MS = 12, ROWS = 300, SPEAK_MS = 2500;
  let world, chart, running = false, last = 0, owed = 0, drawnAt = 0, toSay = "", saidAt = -Infinity;

  // ---- words -------------------------------------------------------------------------------------------------------
  const localClock = (s) => clockOf(world.local(s));
  const whole = (lux) => (lux >= 100 ? String(Math.round(lux)) : String(Number(lux.toPrecision(2))));
  const rulesOf = (names) => [...new Set(names.flatMap((name) => data.rules[name] || []))];
  const ruleLinks = (names) => {
    const made = [];
    for (const rule of rulesOf(names)) {
      const link = document.createElement("a");
      link.href = "#rule-" + rule;
      link.textContent = rule;
      made.push(made.length ? " " : "", link);
    }
    return made.filter(Boolean);
  };
  const alarmText = (words) => words.map((word) => W.alarm_words[word] || word).join("; ");

  // A line of the program's log: null for a remark.
  const read = (line) => {
    const cells = line.split(",");
    if (line.startsWith("#") || cells.length !== 8 || cells[0] === "date") return null;
    const [, , event, counts, door, move, reason, alarms] = cells;
    return { event, counts, door, move, reason, alarms: alarms ? alarms.split("+") : [] };
  };
  const sentence = (one) => {
    const values = { door: W.doors[one.door], want: W.wants[one.move], reason: W.reasons[one.reason], alarms: alarmText(one.alarms) };
    const key = one.event === "alarm" ? (one.alarms.length ? "alarm_on" : "alarm_off") : one.event;
    return fill(W.events[key], values);
  };

  // ---- what is said to a screen reader: the newest, and not more than one sentence in a while ----------------------
  const say = (text, atOnce) => {
    toSay = text;
    if (atOnce) saidAt = -Infinity;
    speak();
  };
  const speak = () => {
    if (!toSay || performance.now() - saidAt < SPEAK_MS) return;
    at("play-status").textContent = toSay;
    toSay = "";
    saidAt = performance.now();
  };

  // ---- the list ----------------------------------------------------------------------------------------------------
  const cell = (label, inside) => {
    const one = document.createElement("td");
    one.setAttribute("role", "cell");
    one.dataset.label = label;
    one.append(...inside);
    return one;
  };
  const enter = (kind, s, words, links, counts) => {
    const row = document.createElement("tr");
    row.setAttribute("role", "row");
    row.className = kind;
    row.hidden = kind === "quarter" && !at("quarters").checked;
    const head = document.createElement("th");
    head.scope = "row";
    head.setAttribute("role", "rowheader");
    head.textContent = localClock(s);
    row.append(head, cell(W.log.what, [words]), cell(W.log.rule, links), cell(W.log.counts, [counts]));
    at("events").prepend(row);
    while (at("events").rows.length > ROWS) at("events").lastElementChild.remove();
    at("empty").hidden = true;
  };
  const tell = ({ s, line }) => {
    const one = read(line);
    if (!one) return;
    const words = sentence(one);
    const links = ruleLinks(one.event === "alarm" ? one.alarms : one.event === "move" ? [one.reason] : []);
    enter(one.event, s, words, links, one.counts);
    if (one.event !== "quarter") say(localClock(s).slice(0, 5) + " " + words);
  };

  // ---- now ---------------------------------------------------------------------------------------------------------
  const put = (id, text) => { if (at(id).textContent !== text) at(id).textContent = text; };
  const skyWord = (lux) => (lux > 400 ? "day" : lux > 3 ? "civil" : lux > 0.008 ? "nautical" : "night");
  const clockWords = (seen) => {
    const words = W.now;
    if (!data.hasClock) return words.no_clock;
    if (world.broken.clock_absent) return words.clock_absent;
    const s = seen.clockS + EPOCH_2000_DAY * DAY_S, off = Math.round((s - (world.s - 1)) / 60), time = localClock(s);
    if (world.broken.clock_halted) return fill(words.clock_halted, { time });
    return fill(off ? (off > 0 ? words.clock_fast : words.clock_slow) : words.clock_right, { time, min: Math.abs(off) });
  };
  const lightDecides = ["close", "open"].some((side) => data[side + "First"].some((first, k) => first !== data[side + "Last"][k]));
  const lightWords = (seen) => {
    const words = W.now;
    if (!lightDecides) return words.light_unused;
    const said = [seen.proven ? words.light_proven : words.light_unproven];
    if (seen.taught && Math.abs(seen.lastOffMin) >= 10) {
      const side = seen.lastOffMin > 0 ? words.later : words.earlier;
      said.push(fill(words.light_off, { min: Math.abs(seen.lastOffMin), side }));
    }
    if (seen.shiftMin) said.push(fill(words.light_shift, { min: seen.shiftMin }));
    return said.join("; ");
  };
  const levelWord = (lux) => (lux < data.cell.dark ? W.now.level_dark : lux > data.cell.bright ? W.now.level_bright : W.now.level_between);
  const standing = (seen) => {
    const found = [];
    for (let bit = 0; bit < 16; bit++) if (seen.alarms >> bit & 1) found.push(data.alarms[bit]);
    return found;
  };
  const lightText = (lux) => {
    const values = { lux: whole(lux), counts: world.sky.counts(lux), level: levelWord(lux) };
    return fill(data.cell.kind === "lux" ? W.now.lux_only : W.now.lux, values);
  };

  const show = () => {
    const seen = world.door.look(), s = world.s, lux = world.lux(s), height = Math.round(seen.height / 10);
    const off = !seen.powered, door = W.doors[N.doors[seen.door]], reason = N.reasons[seen.reason];
    put("now-local", fill(W.now.date_at, { date: isoOf(world.local(s)), time: localClock(s) }));
    put("now-door", fill(W.now.height, { door: off ? W.now.no_power : door, height }));
    put("now-wanted", off ? W.now.no_power : W.wants[N.wants[seen.want]]);
    put("now-light", lightText(lux));
    put("now-clock", clockWords(seen));
    put("now-light_time", lightWords(seen));
    put("now-goes_by", off ? W.now.no_power : W.times[N.times[seen.time]]);
    put("now-motor", W.drives[off ? "halt" : N.drives[seen.drive]]);
    put("now-alarms", off ? W.now.no_power : alarmText(standing(seen)) || W.now.none);
    if (at("now-why").dataset.reason !== reason + off) {
      at("now-why").dataset.reason = reason + off;
      const links = ruleLinks([reason]);
      at("now-why").replaceChildren(...(off ? [W.now.no_power] : [W.reasons[reason], ...(links.length ? [" (", ...links, ")"] : [])]));
    }
    drawScene(seen, lux, height, door);
    chart.draw();
  };
  const drawScene = (seen, lux, height, door) => {
    const sky = skyWord(10 ** (world.sky.clearLogAt(s0(world.s)) + world.weather.log(world.s)));
    at("scene-sky").setAttribute("class", "sky-" + sky);
    const [top, high] = ["y", "height"].map((name) => Number(at("plate").getAttribute(name)));
    const up = clipped(height / data.machine.travel, 0, 1) * high;
    at("plate").setAttribute("transform", "translate(0 " + (-up).toFixed(1) + ")");
    at("cord").setAttribute("y2", (top - up).toFixed(1));
    at("alarm-light").classList.toggle("lit", seen.alarms !== 0 && Boolean(seen.powered));
    at("lamp-light").setAttribute("visibility", world.weather.lamps(world.s) ? "visible" : "hidden");
    at("snow-cap").setAttribute("visibility", world.broken.snow ? "visible" : "hidden");
    put("scene-time", localClock(world.s).slice(0, 5));
    put("scene-door", seen.powered ? door : W.now.no_power);
    const name = fill(W.now.scene, { door, height, sky: W.sky_words[sky] });
    if (at("scene").getAttribute("aria-label") !== name) at("scene").setAttribute("aria-label", name);
  };
  const s0 = (s) => s - data.offset * 60;

  // ---- time --------------------------------------------------------------------------------------------------------
  const atEnd = () => world.rowOf(world.s) >= data.close.length - 2;
  const live = (n, ends) => {
    const lines = world.live(n, ends);
    lines.forEach(tell);
    return lines;
  };
  const setRunning = (on) => {
    running = on;
    owed = 0;
    at("run").textContent = on ? W.run.pause : W.run.play;
    if (on) requestAnimationFrame((now) => { last = now; requestAnimationFrame(tick); });
  };
  const tick = (now) => {
    speak();
    if (!running) return;
    owed += (Math.min(now - last, 250) / 1000) * Number(at("speed").value);
    last = now;
    const began = performance.now();
    while (owed >= 1 && performance.now() - began < SLICE_MS) {
      const n = Math.min(Math.floor(owed), SLICE_S);
      live(n);
      owed -= n;
    }
    if (owed > 3600 * 6) owed = 0; // a machine that cannot keep up goes as fast as it can
    if (now - drawnAt > 60) {
      drawnAt = now;
      show();
    }
    if (atEnd()) {
      setRunning(false);
      say(W.run.ended, true);
      show();
    } else requestAnimationFrame(tick);
  };
  const step = (n, ends) => {
    setRunning(false);
    const lines = atEnd() ? [] : live(n, ends);
    show();
    if (atEnd()) say(W.run.ended, true);
    else if (ends && !lines.some(({ line }) => ends(line))) say(W.run.nothing, true);
  };
  const isEvent = (line) => {
    const one = read(line);
    return one !== null && one.event !== "quarter";
  };

  // ---- what happens ------------------------------------------------------------------------------------------------
  // What was pressed stands in the list too, below what came of it.
  const happened = (what, how = W.happen.done) => {
    const words = fill(how, { what });
    enter("pressed", world.s, words, [], "");
    world.heard().forEach(tell);
    show();
    say(words, true);
  };
  const minutesWrong = () => {
    const field = at("clock_by");
    const good = field.checkValidity() && field.value !== "";
    put("clock_by-error", good ? "" : W.happen.minutes_wanted);
    field.setAttribute("aria-invalid", String(!good));
    if (good) return Number(field.value);
    field.focus();
    say(W.happen.minutes_wanted, true);
    return null;
  };
  const withMinutes = (what) => () => {
    const by = minutesWrong();
    if (by !== null) what(by);
    return by === null ? null : fill(W.happen.by_minutes, { min: by });
  };
  // What each does; what it returns is said behind its name, and null says that it did nothing.
  const ACTS = {
    cloud: () => world.weather.cloud(world.s),
    headlights: () => world.weather.headlights(world.s),
    clock_once: withMinutes((by) => world.setClock(by, false)),
    clock_twice: withMinutes((by) => world.setClock(by, true)),
    clock_jump: withMinutes((by) => world.door.break("clock_by_s", by * 60)),
    clock_right: () => world.setClock(0, true),
    power_cut: () => world.powerCut(1800),
    hand_up: () => world.hand(HAND_UP),
    hand_down: () => world.hand(HAND_DOWN),
  };
  const TOGGLES = ["snow", "clock_absent", "clock_halted", "battery_spent", "jam", "frozen", "cord_backwards", "wires_swapped", "keep_shut"];
  const CHOICES = ["lamp", "top_switch", "bottom_switch"];
  const toggle = (id, on) => {
    if (!at(id) || (at(id).getAttribute("aria-pressed") === "true") === on) return false;
    at(id).setAttribute("aria-pressed", String(on));
    world.break(id, on);
    return true;
  };
  const mend = () => {
    TOGGLES.forEach((id) => toggle(id, false));
    for (const id of CHOICES) {
      if (at(id).value !== "0") {
        at(id).value = "0";
        world.break(id, 0);
      }
    }
    world.weather.clouds = [];
    world.setClock(0, true);
  };

  // ---- beginning ---------------------------------------------------------------------------------------------------
  const rowOfDate = () => Math.round(Date.parse(at("date").value) / 1000 / DAY_S) - data.firstDay;
  const again = async () => {
    if (!at("date").checkValidity() || !at("date").value) return;
    delete document.documentElement.dataset.play;
    setRunning(false);
    TOGGLES.forEach((id) => at(id) && at(id).setAttribute("aria-pressed", "false"));
    CHOICES.forEach((id) => { at(id).value = "0"; });
    at("events").replaceChildren();
    at("empty").hidden = false;
    await world.start(rowOfDate(), at("begin").value, at("sky").value);
    chart.fromS = NaN;
    show();
    document.documentElement.dataset.play = "ready";
  };
  const bind = () => {
    at("run").addEventListener("click", () => setRunning(!running && !atEnd()));
    at("step-second").addEventListener("click", () => step(1));
    at("step-minute").addEventListener("click", () => step(60));
    at("step-event").addEventListener("click", () => step(LONGEST_STEP_S, isEvent));
    at("again").addEventListener("click", again);
    for (const id of ["date", "begin", "sky"]) at(id).addEventListener("change", again);
    at("span").addEventListener("change", () => {
      chart.hours = Number(at("span").value);
      chart.draw();
    });
    for (const [id, act] of Object.entries(ACTS)) {
      if (!at(id)) continue;
      at(id).addEventListener("click", () => {
        const more = act();
        if (more !== null) happened(at(id).textContent + (typeof more === "string" ? more : ""));
      });
    }
    for (const id of TOGGLES) {
      if (!at(id)) continue;
      at(id).addEventListener("click", () => {
        const on = at(id).getAttribute("aria-pressed") !== "true";
        toggle(id, on);
        happened(at(id).textContent, on ? W.happen.on : W.happen.off);
      });
    }
    for (const id of CHOICES) {
      at(id).addEventListener("change", () => {
        world.break(id, Number(at(id).value));
        happened(document.querySelector('label[for="' + id + '"]').textContent + ": " + at(id).selectedOptions[0].textContent);
      });
    }
    at("mend").addEventListener("click", () => {
      mend();
      happened("", W.happen.mended);
    });
    at("quarters").addEventListener("change", () => {
      for (const row of at("events").querySelectorAll(".quarter")) row.hidden = !at("quarters").checked;
    });
    at("raw-log").addEventListener("toggle", showRaw);
    addEventListener("hashchange", openRule);
    addEventListener("beforeprint", show);
    setInterval(speak, 500);
  };
  const showRaw = () => {
    if (!at("raw-log").open) return;
    at("raw").textContent = world.log;
    URL.revokeObjectURL(at("save").href);
    at("save").href = URL.createObjectURL(new Blob([world.log], { type: "text/csv" }));
    at("save").hidden = origin === "null" && parent !== window; // a frame that may save nothing
  };
  // A link to a rule opens the rules and goes to its row.
  const openRule = () => {
    const target = /^#rule-\w+$/.test(location.hash) && at(location.hash.slice(1));
    if (!target) return;
    at("play-rules").open = true;
    target.focus();
    target.scrollIntoView({ block: "center" });
  };

  (async () => {
    try {
      const module = await WebAssembly.compile(bytesOf(data.wasm));
      world = new World(module, data);
      chart = new Chart(at("chart"), world, W.chart);
      bind();
      await again();
      openRule();
    } catch (error) {
      at("play-status").textContent = fill(W.not_started, { error: String(error) });
      throw error;
    }
  })();
})();
