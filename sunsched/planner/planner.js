// Asks the planner and remembers: the text, what was typed since, what can be undone, what it is compared with.
(() => {
  const query = new URLSearchParams(location.search);
  const KEY = query.get("k");
  const QUIET_MS = 150; // of no change before the year is asked for: ten changes in a second are one
  const SLOW_MS = 300; // more before what takes long is begun
  let draw, begun;
  const now = {
    text: "", fileText: "", kept: "", digest: "", year: 0, day: "", typed: {}, typedText: null, fileShown: null,
    steps: new Steps(), answer: null, before: null, drawn: 0, played: "",
  };
  const found = new Answers();
  let seq = 0, timer = 0, slowTimer = 0, slow = null;

  // ---- asking ----
  const PLAIN = { ended: "The planner does not answer.", refused: "The planner refused this page." }; // before its words are there
  const asking = new Asking(KEY, (word) => status(draw ? draw.say(word) : PLAIN[word], true));
  const ask = (what, more, signal) => asking.ask(what, more, signal);
  const setting = () => ({ text: now.text, typed: now.typed, year: now.year, day: now.day });
  const untype = () => Object.assign(now, { typed: {}, typedText: null });
  const status = (text, bad = false) => {
    at("status").textContent = text;
    at("status").className = bad ? "error" : "";
  };

  // ---- the year ----
  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(replan, QUIET_MS);
  };
  // `afresh`: the text is another one (undo, the file's own), and what stands in the fields has to give way.
  // False where the planner did not answer.
  const replan = async (afresh = false) => {
    clearTimeout(timer);
    clearTimeout(slowTimer);
    if (slow) slow.abort();
    const mine = ++seq;
    const sent = { ...now.typed };
    const text = now.typedText === null ? now.text : now.typedText;
    let got;
    try {
      const answer = await ask("plan", { ...setting(), text, typed: now.typedText === null ? sent : {} });
      got = answer.status === 413 ? { problems: [{ field: "", text: draw.say("too_long") }] } : await answer.json();
    } catch {
      return false;
    }
    if (mine !== seq || got.overtaken) return true;
    if (!got.ok) {
      wrong(got);
      return true;
    }
    for (const key of Object.keys(sent)) if (now.typed[key] === sent[key]) delete now.typed[key];
    if (now.typedText === text) now.typedText = null;
    take(got, afresh ? null : document.activeElement);
    return true;
  };
  const wrong = (got) => {
    const problems = got.problems || [];
    at("raw-error").hidden = now.typedText === null;
    at("raw-error").textContent = now.typedText === null ? "" : problems.map((one) => one.text).join("\n");
    draw.problems(problems);
    if (problems.length) status(problems[0].text, true);
    at("stale").hidden = !now.answer;
    at("results").classList.toggle("stale", !!now.answer);
    if (!now.answer && got.fields) draw.fill(begun.fields, got.fields, now.typed, document.activeElement);
    tools();
  };
  const take = (got, busy) => {
    if (got.text !== now.text || now.steps.at < 0) now.steps.remember(got.text);
    now.text = got.text;
    now.answer = got;
    at("stale").hidden = at("raw-error").hidden = true;
    at("results").classList.remove("stale");
    draw.problems([]);
    draw.fill(begun.fields, got.fields, now.typed, busy);
    if (at("text") !== document.activeElement || now.typedText === null) setText(got.text);
    show(got);
    tools();
    at("play-old").hidden = !now.played || now.played === got.text;
    address();
    compare();
    slowTimer = setTimeout(startSlow, SLOW_MS);
  };
  const setText = (text) => {
    if (at("text").value !== text) at("text").value = text;
  };
  const show = (got) => {
    at("title").textContent = got.title;
    document.title = got.title;
    at("now-caption").textContent = now.before && now.before.text !== now.text ? begun.words.page.now : got.title;
    draw.map(at("now-map"), got);
    now.drawn += 1;
    document.body.dataset.drawn = String(now.drawn);
    const present = made("span", begun.words.page.now + ": ", { lang: document.documentElement.lang });
    at("now-line").replaceChildren(present, got.now);
    at("day-date").min = now.year + "-01-01";
    at("day-date").max = now.year + "-12-31";
    at("day-slider").max = String(got.days.open.length - 1);
    at("steps").hidden = false;
    draw.steps(got.day);
    showDay(now.day);
    draw.warnings(got.warnings, got.battery_to_come);
    summary(got);
  };
  const summary = ({ ends, title, warnings }) => {
    const span = (side) => `${ends["earliest_" + side].split(",")[0]} - ${ends["latest_" + side].split(",")[0]}`;
    status(draw.say("drawn", { title, close: span("close"), open: span("open"), warnings: draw.count(warnings) }));
  };

  // ---- a day ----
  const rowOf = (day) => Days.rowOf(now.answer.days.first, day);
  const dayOf = (row) => Days.dayOf(now.answer.days.first, row);
  const showDay = (day) => {
    const last = now.answer.days.open.length - 1;
    const row = Math.min(Math.max(rowOf(day), 0), last);
    now.day = dayOf(row);
    draw.tonight(now.answer.days, row);
    draw.mark(now.answer, "year", row);
    if (now.before && now.before.answer) draw.mark(now.before.answer, "before", row);
    at("day-date").value = now.day;
    at("day-slider").value = String(row);
    at("day-slider").setAttribute("aria-valuetext", at("tonight").textContent);
    at("day-before").disabled = row === 0;
    at("day-after").disabled = row === last;
  };
  const goTo = (day) => {
    if (!now.answer || !day) return;
    showDay(day);
    address();
    later(); // its steps
  };

  // ---- undo, redo ----
  const go = (by) => {
    const text = now.steps.go(by);
    if (text === null) return;
    now.text = text;
    untype();
    setText(text);
    replan(true);
  };
  const tools = () => {
    at("undo").disabled = !now.steps.canUndo;
    at("redo").disabled = !now.steps.canRedo;
    const name = begun.name;
    const words = begun.can_save ? [draw.say(now.digest ? "file" : "new_file", { name })] : [draw.say("no_file")];
    if (begun.can_save) words.push(draw.say(now.text === now.fileText && now.digest ? "same" : "unsaved"));
    at("file").textContent = words.join(" ");
  };

  // ---- before and now ----
  const compare = async () => {
    const before = now.before;
    const differs = before && before.text !== now.text;
    at("before-figure").hidden = at("differences").hidden = !differs;
    at("maps").classList.toggle("beside", !!differs);
    if (!differs) return;
    if (!before.answer || before.year !== now.year) {
      const year = now.year;
      try {
        const got = await (await ask("plan", { text: before.text, year, day: now.day, before: true })).json();
        if (now.before !== before || !got.ok) return;
        before.answer = got;
        before.year = year;
        draw.map(at("before-map"), got);
      } catch {
        return;
      }
    }
    draw.mark(before.answer, "before", rowOf(now.day));
    differences();
  };
  const differences = () => {
    const before = now.before && now.before.answer;
    if (!before || !now.answer || now.before.text === now.text) return;
    const slow = ["table", "battery"].map((what) => [now.before.text, now.text].map((text) => found.get(name2(what, text))));
    draw.differences(begun.fields, before, now.answer, rowOf(now.day), ...slow);
  };

  // ---- what takes long ----
  const name2 = (what, text, more = "") => [what, now.year, more, text].join("|");
  const startSlow = async () => {
    slow = new AbortController();
    const signal = slow.signal;
    const beside = now.before && now.before.text !== now.text ? now.before.text : "";
    const put = {
      battery: showBattery,
      birds: (got) => at("birds").replaceChildren(...draw.birds(got)),
      table: (got) => at("table").replaceChildren(...draw.tableSize(got)),
    };
    const steps = [
      ["battery", {}, ""],
      ["birds", { n_years: begun.looks[0], before_text: beside }, begun.looks[0] + beside],
      ["table", {}, ""],
      ["birds", { n_years: begun.looks[1], before_text: beside }, begun.looks[1] + beside],
    ];
    const longer = found.get(name2("birds", now.text, begun.looks[1] + beside));
    for (const [what, more, extra] of steps) {
      const key = name2(what, now.text, extra);
      let got = what === "birds" && longer ? longer : found.get(key);
      if (!got) {
        at(what).classList.add("working");
        if (!at(what).firstChild) at(what).replaceChildren(made("p", draw.say("working")));
        try {
          got = await (await ask(what, { ...setting(), typed: {}, ...more }, signal)).json();
        } catch {
          return;
        }
        if (signal.aborted || got.overtaken) return;
        found.keep(key, got);
      }
      at(what).classList.remove("working");
      if (got.problems) at(what).replaceChildren(made("p", draw.say("no_answer", { why: got.problems.map((one) => one.text).join("; ") })));
      else put[what](got);
      differences();
    }
    if (beside) await slowOf(now.before, signal);
    if (!signal.aborted) document.body.dataset.settled = String(now.drawn);
  };
  // Table and battery of the setting before, for the table of differences.
  const slowOf = async (before, signal) => {
    for (const what of ["battery", "table"]) {
      const key = name2(what, before.text);
      try {
        if (!found.get(key)) {
          const got = await (await ask(what, { ...setting(), text: before.text, typed: {} }, signal)).json();
          if (signal.aborted || got.overtaken) return;
          found.keep(key, got);
        }
      } catch {
        return;
      }
      const { warnings } = found.get(key);
      if (warnings && before.answer) Object.assign(before.answer, { warnings, battery_to_come: false });
      differences();
    }
  };
  const showBattery = (got) => {
    at("battery").replaceChildren(...draw.battery(got));
    const more = got.warnings.length !== now.answer.warnings.length;
    Object.assign(now.answer, { warnings: got.warnings, battery_to_come: false });
    draw.warnings(got.warnings, false);
    if (more) summary(now.answer);
  };

  // ---- the address ----
  const address = () => {
    if (!now.fileShown) now.fileShown = now.answer.fields;
    history.replaceState(null, "", location.pathname + location.search + Link.of(now, begun.fields));
  };
  const fromAddress = () => {
    const { year, day, typed } = Link.read(location.hash, now, begun);
    Object.assign(now, { year, day });
    at("year-number").value = String(now.year);
    return typed;
  };

  // ---- the file ----
  const pending = () => Object.keys(now.typed).length > 0 || now.typedText !== null;
  // What was typed a moment ago is taken before the text is used. False where the planner did not answer.
  const taken = async () => !pending() || (await replan());
  const save = async (digest = now.digest) => {
    if (!(await taken())) return;
    if (pending()) {
      status(draw.say("cannot_save"), true);
      const first = document.querySelector("[aria-invalid]");
      if (first) first.focus();
      return;
    }
    const text = now.text;
    let got;
    try {
      got = await (await ask("save", { text, digest })).json();
    } catch {
      return;
    }
    if (got.conflict) conflict(got);
    else if (got.problems) {
      draw.problems(got.problems);
      status(got.problems[0].text, true);
    } else {
      fileIs(text, got.digest);
      status(draw.say("saved", { name: begun.name }));
    }
  };
  const fileIs = (text, digest) => {
    now.fileText = text;
    now.kept = digest ? text : "";
    now.digest = digest;
    if (text === now.text && now.answer) now.fileShown = now.answer.fields;
    tools();
    address();
  };
  let theirs = null;
  const conflict = (got) => {
    theirs = got;
    draw.conflict(got, begun);
    at("conflict").showModal();
  };
  const takeTheirs = () => {
    at("conflict").close();
    untype();
    now.fileText = now.kept = theirs.text;
    now.digest = theirs.digest;
    now.fileShown = null;
    now.text = theirs.text;
    now.steps.remember(now.text);
    setText(now.text);
    status(draw.say("reloaded"));
    replan(true);
  };
  const reload = async () => {
    try {
      const got = await (await ask("reload", { text: now.text })).json();
      if (got.problems) status(got.problems[0].text, true);
      else if (got.digest === now.digest && got.text === now.text) status(draw.say("file_same"));
      else conflict(got);
    } catch {}
  };
  const give = (content, name) => {
    const link = made("a", "", { href: URL.createObjectURL(content), download: name });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
    status(draw.say("downloaded", { name }));
  };
  const download = async (button) => {
    button.disabled = true;
    await taken();
    status(draw.say("making"));
    try {
      const more = { kind: button.dataset.kind, n_years: Number(at("program-years").value) };
      const answer = await ask("file", { ...setting(), typed: {}, ...more });
      if (answer.ok) {
        draw.problems([], at("file-problems"));
        give(await answer.blob(), /filename="(.+)"/.exec(answer.headers.get("content-disposition"))[1]);
      } else {
        const { problems = [] } = await answer.json();
        draw.problems(problems, at("file-problems"));
        status(problems.length ? problems[0].text : "", true);
      }
    } catch {
    } finally {
      button.disabled = false;
    }
  };
  const play = async () => {
    await taken();
    try {
      const got = await (await ask("play", { ...setting(), typed: {} })).json();
      if (got.problems) return status(got.problems[0].text, true);
      const src = "/play?" + new URLSearchParams({ k: KEY, number: got.number });
      now.played = now.text;
      at("play-old").hidden = true;
      at("play-frame").replaceChildren(made("iframe", null, { src, sandbox: "allow-scripts", title: begun.words.page.play }));
    } catch {}
  };
  const pin = async () => {
    await taken();
    now.before = { text: now.text, answer: null };
    compare();
    status(draw.say("pinned"));
  };
  const link = async () => {
    await taken();
    const copied = navigator.clipboard.writeText(location.href);
    status(await copied.then(() => draw.say("copied"), () => draw.say("link_here", { link: location.href })));
  };

  // ---- what is typed, pressed and pointed at ----
  const typed = (key, value) => {
    now.typed[key] = value;
    const slider = document.querySelector(`[data-slides="${key}"]`);
    if (slider && slider !== document.activeElement) slider.value = value || slider.value;
    later();
  };
  const listen = () => {
    at("settings").addEventListener("submit", (event) => event.preventDefault());
    at("settings").addEventListener("input", (event) => {
      const { key, slides } = event.target.dataset;
      if (slides) at("field-" + slides).value = event.target.value;
      if (key || slides) typed(key || slides, event.target.value);
    });
    at("text").addEventListener("input", () => {
      now.typedText = at("text").value;
      now.typed = {};
      later();
    });
    at("problems").addEventListener("click", toField);
    at("file-problems").addEventListener("click", toField);
    at("undo").addEventListener("click", () => go(-1));
    at("redo").addEventListener("click", () => go(1));
    at("save").addEventListener("click", () => save());
    at("reload").addEventListener("click", reload);
    at("pin").addEventListener("click", pin);
    at("link").addEventListener("click", link);
    at("download-text").addEventListener("click", () => {
      now.kept = now.text;
      give(new Blob([now.text], { type: "application/toml" }), begun.name.split(/[\\/]/).pop());
    });
    // The browser asks before a text is lost that stands nowhere else: the link holds no lists.
    addEventListener("beforeunload", (event) => {
      if (pending() || now.text !== now.kept) event.preventDefault();
    });
    at("conflict-theirs").addEventListener("click", takeTheirs);
    at("conflict-mine").addEventListener("click", () => {
      at("conflict").close();
      save(theirs.digest);
    });
    at("conflict-leave").addEventListener("click", () => {
      at("conflict").close();
      if (theirs.gone) fileIs("", "");
    });
    for (const button of document.querySelectorAll("[data-kind]")) button.addEventListener("click", () => download(button));
    at("play-open").addEventListener("click", play);
    at("language").addEventListener("change", () => {
      query.set("lang", at("language").value);
      location.search = query;
    });
    at("year-number").addEventListener("input", () => {
      const year = Number(at("year-number").value);
      if (!at("year-number").checkValidity() || !year) return;
      now.year = year;
      now.day = Days.inYear(now.day, year);
      later();
    });
    at("year-number").addEventListener("change", () => {
      const [low, high] = begun.years;
      if (at("year-number").value !== String(now.year)) status(draw.say("years", { low, high }), true);
    });
    at("day-date").addEventListener("change", () => goTo(at("day-date").value));
    at("day-before").addEventListener("click", () => goTo(dayOf(rowOf(now.day) - 1)));
    at("day-after").addEventListener("click", () => goTo(dayOf(rowOf(now.day) + 1)));
    at("day-slider").addEventListener("input", () => now.answer && goTo(dayOf(Number(at("day-slider").value))));
    at("zone-place").addEventListener("click", zonePlace);
    for (const place of ["now-map", "before-map"]) at(place).addEventListener("pointerdown", follow);
    addEventListener("beforeprint", () => {
      for (const group of document.querySelectorAll("#chosen .group, #more-warnings")) group.open = true;
    });
    addEventListener("hashchange", () => {
      now.text = now.fileText || begun.text;
      untype();
      put(fromAddress());
      replan();
    });
    addEventListener("keydown", (event) => {
      if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
      const inText = /^(text|search)?$/.test(event.target.type || "none") || event.target.localName === "textarea";
      const key = event.key.toLowerCase();
      if (key === "s" && begun.can_save) save();
      else if (key === "z" && !inText) go(event.shiftKey ? 1 : -1);
      else if (key === "y" && !inText) go(1);
      else return;
      event.preventDefault();
    });
  };
  const toField = (event) => {
    const to = event.target.dataset.to;
    if (!to) return;
    event.preventDefault();
    at("field-" + to).focus();
  };
  const follow = (event) => {
    const answer = event.currentTarget.id === "now-map" ? now.answer : now.before.answer;
    const row = answer && draw.rowAt(answer.days, event);
    if (row !== null && row !== undefined) goTo(dayOf(row));
  };

  // ---- the beginning ----
  // As if typed: the fields hold it too.
  const put = (values) => {
    for (const [key, value] of Object.entries(values)) at("field-" + key).value = value;
    Object.assign(now.typed, values);
  };
  const zonePlace = () => {
    const zone = at("field-site.zone").value;
    const place = begun.zones[zone];
    if (!place) return;
    put({ "site.latitude_deg": place[0].toFixed(3), "site.longitude_deg": place[1].toFixed(3) });
    status(draw.say("zone_place_done", { zone }));
    replan();
  };
  const begin = async () => {
    begun = await (await ask("start", { language: document.documentElement.lang })).json();
    draw = new Draw(begun.words);
    Object.assign(now, { text: begun.text, kept: begun.text, digest: begun.digest, year: begun.year, day: begun.day });
    now.fileText = begun.digest ? begun.text : "";
    draw.build(begun);
    listen();
    setText(now.text);
    tools();
    const asked = fromAddress();
    now.before = { text: begun.text, answer: null };
    await replan(); // the file itself first: what a link changes is told against it
    if (now.answer && Object.keys(asked).length) {
      put(asked);
      await replan();
    }
  };
  begin().catch(() => {});
})();
