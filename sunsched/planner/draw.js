"use strict";
// Puts answers into the page. Every text is set as text; the maps alone are markup, which the planner itself drew.
const at = (id) => document.getElementById(id);
const SHOWN_WARNINGS = 3; // as the commands show
const DAY_MS = 86400000;
const two = (n) => String(n).padStart(2, "0");

const made = (tag, inside, more = {}) => {
  const one = document.createElement(tag);
  for (const part of [inside].flat()) if (part !== null && part !== undefined) one.append(part);
  for (const [name, value] of Object.entries(more)) if (value !== null && value !== undefined) one.setAttribute(name, value);
  return one;
};

class Draw {
  constructor(words) {
    this.words = words;
    this.places = new Map(); // each field's input and slider
    this.held = new Map(); // what each field was last told to hold
  }

  // A sentence of the words' file with its {places} filled in.
  say(key, values = {}) {
    return this.words.say[key].replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
  }

  // What the commands say is English on every page.
  english(text) {
    return made("span", text, { lang: "en" });
  }

  number(value) {
    const size = Math.abs(value);
    const digits = size >= 100 ? 0 : size >= 10 ? 1 : 2;
    return Number(value.toFixed(digits)).toLocaleString(document.documentElement.lang, { maximumFractionDigits: digits });
  }

  table(caption, head, rows) {
    const top = made("thead", made("tr", head.map((cell) => made("th", cell, { scope: "col", role: "columnheader" })), { role: "row" }), { role: "rowgroup" });
    const lines = rows.map((row) =>
      made("tr", row.map((cell, n) =>
        n ? made("td", cell, { "data-label": head[n], role: "cell" }) : made("th", cell, { scope: "row", role: "rowheader" })), { role: "row" }));
    return made("table", [made("caption", caption), top, made("tbody", lines, { role: "rowgroup" })], { class: "stack left", role: "table" });
  }

  // What may be wider than its place, which the keyboard reaches.
  scrolled(name, inside) {
    return made("div", inside, { class: "scrolled", role: "region", tabindex: "0", "aria-label": name });
  }

  // ---- the beginning ----
  // The fields, lists and buttons of what the planner begins with.
  build(begun) {
    const byKey = new Map(begun.fields.map((field) => [field.key, field]));
    const first = new Set(Object.values(begun.chosen).flat());
    // A narrow screen begins with what is changed most; a new site with its place.
    const wide = matchMedia("(min-width:46rem)").matches;
    const open = (name) => wide || name === "evening" || (name === "place" && !begun.digest);
    const groups = Object.entries(begun.chosen).map(([name, keys]) => this.group(this.words.groups[name], keys.map((key) => byKey.get(key)), true, open(name)));
    at("chosen").replaceChildren(...groups);
    const place = made("button", this.say("zone_place"), { type: "button", id: "zone-place" });
    at("field-site.zone").parentElement.append(place);
    const sections = new Map();
    for (const field of begun.fields) if (!first.has(field.key)) sections.set(field.section, [...(sections.get(field.section) || []), field]);
    at("rest").replaceChildren(...[...sections].map(([name, fields]) => this.group(`[${name}]`, fields, false, false)));
    at("zones").replaceChildren(...Object.keys(begun.zones).map((zone) => made("option", "", { value: zone })));
    at("downloads").replaceChildren(...Object.entries(this.words.files).map(([kind, words]) => made("button", words, { type: "button", "data-kind": kind })));
    at("program-years").replaceChildren(...begun.program_years.map((n) => made("option", String(n), { value: n })));
    at("program-years").value = String(begun.program_years.at(-1));
    at("cautions").replaceChildren(...begun.cautions.map((one) => made("li", one)));
    at("save").hidden = at("reload").hidden = !begun.can_save;
    at("play").hidden = !begun.play;
    at("year-number").min = begun.years[0];
    at("year-number").max = begun.years[1];
    at("language").value = document.documentElement.lang;
    at("more-tools").open = wide;
  }

  // ---- fields ----
  // A field's name away from its place, where "Later by" alone could be the morning's or the evening's.
  name(key) {
    const words = this.words.fields[key], section = key.split(".")[0];
    if (!words) return key;
    const side = ["evening", "morning"].includes(section) ? this.words.groups[section].split(":")[0] + ": " : "";
    return side + words[0];
  }

  range(field) {
    const unit = field.unit ? " " + field.unit : "";
    const low = field.low === null ? null : String(field.low).replace("-", "−");
    const high = field.high === null ? null : String(field.high).replace("-", "−");
    if (low === null) return unit.trim();
    if (high === null) return this.say("from", { low }) + unit;
    return this.say(field.above_low ? "above_to" : "from_to", { low, high }) + unit;
  }

  field(field, chosen) {
    const [label, help] = this.words.fields[field.key] || [chosen ? field.key : field.name, ""];
    const id = "field-" + field.key;
    const about = [[help, this.range(field)].filter(Boolean).join("; ")];
    if (!help && field.remark) about.push(about[0] ? "; " : "", this.english(field.remark));
    const input = this.input(field, id, `help-${field.key} error-${field.key}`);
    const slider = field.slider ? this.slider(field, label) : null;
    this.places.set(field.key, { input, slider });
    const parts = [
      made("label", chosen ? label : made("code", label), { for: id }),
      input,
      slider,
      made("small", about, { id: "help-" + field.key, class: "help" }),
      made("p", "", { id: "error-" + field.key, class: "error", hidden: "" }),
    ];
    return made("div", parts, { class: "field" + (field.slider ? " slides" : ""), "data-key": field.key });
  }

  input(field, id, described) {
    const more = { id, name: field.key, "aria-describedby": described, "data-key": field.key };
    if (field.kind === "word" || field.kind === "flag") {
      const words = field.kind === "flag" ? ["true", "false"] : field.choices;
      const options = words.map((word) => made("option", this.choice(field, word), { value: word }));
      return made("select", [made("option", "", { value: "" }), ...options], more);
    }
    const numeric = field.kind === "number" || field.kind === "whole";
    const list = field.key === "site.zone" ? "zones" : null;
    return made("input", null, { type: "text", inputmode: numeric && field.low >= 0 ? "decimal" : null, list, spellcheck: "false", ...more });
  }

  choice(field, word) {
    if (field.kind === "flag") return this.say(word === "true" ? "yes" : "no");
    return this.words.choices[field.name + "." + word] || this.words.choices[word] || word;
  }

  slider(field, label) {
    const [low, high, step] = field.slider;
    const name = this.say("slider", { label });
    return made("input", null, { type: "range", min: low, max: high, step, "data-slides": field.key, "aria-label": name });
  }

  // A fold of fields; `open` says whether it begins open.
  group(title, fields, chosen, open) {
    const inside = made("fieldset", [made("legend", title, { class: "apart" }), ...fields.map((field) => this.field(field, chosen))]);
    return made("details", [made("summary", chosen ? made("h3", title) : made("code", title)), inside], { class: "group", open: open ? "" : null });
  }

  // What every field holds, but for those that are still to be taken and `busy`, the one that is being typed into.
  fill(fields, shown, typed, busy) {
    for (const field of fields) {
      const { given, holds } = shown[field.key];
      const { input, slider } = this.places.get(field.key);
      if (!(field.key in typed) && input !== busy && input.value !== given) input.value = given;
      if (slider && slider !== busy) slider.value = given || holds || 0;
      // Most fields stay as they were, and are left alone.
      if (this.held.get(field.key) === given + "|" + holds) continue;
      this.held.set(field.key, given + "|" + holds);
      if (input.localName === "select") {
        input.options[0].textContent = holds && !given ? this.say("left_out", { value: this.choice(field, holds) }) : "–";
      } else input.placeholder = given ? "" : holds || (field.kind === "time" ? this.say("time_form") : "");
    }
  }

  // Mistakes at their fields, the others above; returns how many there are.
  problems(found, place = at("problems")) {
    for (const one of document.querySelectorAll(".field .error")) one.hidden = true;
    for (const one of document.querySelectorAll("[aria-invalid]")) one.removeAttribute("aria-invalid");
    const others = [];
    for (const { field, text } of found) {
      const input = field && at("field-" + field);
      if (!input) {
        others.push(made("p", text, { class: "error", lang: "en" }));
        continue;
      }
      input.setAttribute("aria-invalid", "true");
      const error = at("error-" + field);
      error.textContent = text;
      error.lang = "en";
      error.hidden = false;
      for (let fold = input.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
      others.push(made("p", made("a", this.name(field), { href: "#", "data-to": field }), { class: "error" }));
    }
    const head = found.length ? made("p", made("b", this.say("wrong", { n: found.length }))) : "";
    place.replaceChildren(head, ...others);
    return found.length;
  }

  // ---- the year ----
  map(place, answer) {
    place.innerHTML = answer.map;
  }

  mark(answer, ident, day) {
    const map = answer.days.map;
    const group = at(ident + "-mark");
    if (!group) return;
    const last = answer.days.open.length - 1;
    const inside = Math.min(Math.max(day, 0), last);
    const y = map.top + map.row * (inside + 1.5);
    group.firstElementChild.setAttribute("y1", String(y));
    group.firstElementChild.setAttribute("y2", String(y));
    const next = inside < last ? answer.days.open[inside + 1] : null;
    this.dot(at(ident + "-mark-close"), map, answer.days.close[inside], y);
    this.dot(at(ident + "-mark-open"), map, next === null ? null : next + 1440, y);
    group.setAttribute("visibility", "visible");
  }

  // The row of the night that a pointer is at, null beside the map.
  rowAt(days, event) {
    const svg = event.currentTarget.firstElementChild;
    const matrix = svg && svg.getScreenCTM();
    if (!matrix) return null;
    const y = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse()).y;
    const row = Math.floor((y - days.map.top) / days.map.row) - 1;
    const last = days.open.length - 1;
    return row >= -1 && row <= last + 1 ? Math.min(Math.max(row, 0), last) : null;
  }

  dot(dot, map, minute, y) {
    dot.setAttribute("visibility", minute === null ? "hidden" : "inherit");
    if (minute === null) return;
    const share = (minute - map.from) / (map.until - map.from);
    dot.setAttribute("cx", String(map.left + share * (map.right - map.left)));
    dot.setAttribute("cy", String(y));
  }

  // ---- before and now ----
  // What differs: the keys, the year's ends, one day, the warnings; `table` and `battery` hold both settings' answers.
  differences(fields, before, now, row, table, battery) {
    const rows = [];
    for (const { key } of fields) {
      const [one, other] = [before.fields[key].given, now.fields[key].given];
      if (one !== other) rows.push([this.name(key), one || "-", other || "-"]);
    }
    for (const key of ["earliest_close", "latest_close", "earliest_open", "latest_open"]) rows.push([this.say(key), before.ends[key] || "-", now.ends[key] || "-"]);
    for (const [side, name] of [["close", "closes_on"], ["open", "opens_on"]]) {
      const times = [before, now].map(({ days }) => (days[side][row] === null ? "-" : this.clock(days[side][row])));
      rows.push([this.say(name, { date: this.date(now.days, row) }), ...times]);
    }
    rows.push([this.say("count_warnings"), ...[before, now].map((one) => one.warnings.length + (one.battery_to_come ? " ..." : ""))]);
    const slow = (name, both, shown) => {
      if (both.some(Boolean)) rows.push([this.say(name), ...both.map((one) => (one ? shown(one) : "..."))]);
    };
    slow("row_table", table, (one) => (one.problems ? "-" : String(one.image_bytes)));
    slow("row_flat", battery, (one) => (one.described ? `${one.flat} / ${one.winters}` : "-"));
    const { differences, before: was, now: is } = this.words.page;
    at("difference-table").replaceChildren(this.table(differences, ["", was, is], rows));
  }

  // ---- a day ----
  clock(minute) {
    const ofDay = ((minute % 1440) + 1440) % 1440;
    const time = two(Math.floor(ofDay / 60)) + ":" + two(ofDay % 60);
    return minute < 0 ? this.say("day_earlier", { time }) : minute > 1439 ? this.say("next_day", { time }) : time;
  }

  date(days, row) {
    const [year, month, day] = days.first;
    const date = new Date(Date.UTC(year, month - 1, day) + row * DAY_MS);
    return this.say("day_of", {
      weekday: this.words.weekdays[(date.getUTCDay() + 6) % 7],
      day: date.getUTCDate(),
      month: this.words.months[date.getUTCMonth()],
      year: date.getUTCFullYear(),
    });
  }

  when(days, side, row) {
    const first = days[side + "First"][row];
    const end = days[side + "Last"][row];
    return first === end ? this.say("at", { a: this.clock(first) }) : this.say("between", { a: this.clock(first), b: this.clock(end) });
  }

  reason(days, side, row) {
    const said = days.reasons[days[side + "Why"][row]];
    return this.words.reasons[said] || said;
  }

  tonight(days, row) {
    const lines = [made("h3", this.date(days, row))];
    if (days.open[row] === null) {
      lines.push(made("p", this.say("stays_down"), { class: "big" }), made("p", days.notes[row] || "", { lang: "en" }));
      lines.push(made("p", this.say("inside"), { class: "look" }));
    } else {
      const [a, b] = [days.closeFirst[row], days.closeLast[row]].map((minute) => this.clock(minute));
      const why = this.reason(days, "close", row);
      lines.push(made("p", a === b ? this.say("down_at", { a }) : this.say("down_between", { a, b }), { class: "big" }));
      lines.push(made("p", a === b ? this.say("by_clock", { why }) : this.say("planned", { time: this.clock(days.close[row]), why })));
      lines.push(made("p", this.say("look", { time: this.clock(days.look[row]) }), { class: "look" }));
    }
    const next = row + 1;
    if (next < days.open.length && days.open[next] !== null) lines.push(made("p", this.say("opens_next", { when: this.when(days, "open", next) })));
    if (days.open[row] !== null) lines.push(made("p", this.say("opens_that", { when: this.when(days, "open", row) }), { class: "quiet" }));
    if (days.open[row] !== null && days.notes[row]) lines.push(made("p", this.say("note", { note: days.notes[row] }), { class: "quiet", lang: "en" }));
    at("tonight").replaceChildren(...lines);
  }

  steps(day) {
    const head = ["step", "civil", "utc", "detail"].map((key) => this.say(key));
    const tables = [["morning", "open"], ["evening", "close"]].map(([side, key]) => {
      const rows = day.steps.filter((step) => step.side === side).map((step) => [this.english(step.step), step.civil || "-", (step.utc || "-").slice(11), this.english(step.detail)]);
      const end = day[key];
      rows.push([this.say("result"), end.civil || "-", (end.utc || "-").slice(11), this.english(end.reason.replace(/_/g, " "))]);
      return this.scrolled(this.say(side), this.table(this.say(side), head, rows));
    });
    at("steps-tables").replaceChildren(...tables);
  }

  // ---- warnings ----
  count(found) {
    return found.length < 2 ? this.say("warnings_" + found.length) : this.say("warnings_n", { n: found.length });
  }

  warnings(found, toCome) {
    at("warnings-count").textContent = this.count(found) + "." + (toCome ? " " + this.say("battery_to_come") : "");
    const all = found.map((one) =>
      made("div", [made("p", [made("b", this.say("warning") + " "), this.english(one.text + ".")]), made("p", [this.say("what_to_do") + " ", this.english(one.to_do)])], { class: "warning" }));
    const [first, rest] = [all.slice(0, SHOWN_WARNINGS), all.slice(SHOWN_WARNINGS)];
    const before = at("more-warnings");
    const open = before && before.open ? "" : null;
    const more = rest.length ? made("details", [made("summary", this.say("more_warnings", { n: rest.length })), ...rest], { id: "more-warnings", class: "wide", open }) : "";
    at("warnings").replaceChildren(...first, more);
  }

  // ---- what comes later ----
  within(one) {
    return this.say("within", { mean: this.number(one.mean), within: this.number(one.within) });
  }

  told(one) {
    const values = { mean: (one.mean > 0 ? "+" : "") + this.number(one.mean).replace("-", "−"), within: this.number(one.within) };
    return this.say(one.told ? "within" : "cannot_tell", values);
  }

  // None seen in so many years: with 95 % under 3 in so many (the rule of three), as `compare` says it.
  bird(one, years) {
    return one.mean === 0 ? this.say("none_in", { bound: this.number(Math.ceil(3000 / years) / 1000) }) : this.within(one);
  }

  birds(found) {
    if (!found.birds) return [made("p", this.say("birds_none"))];
    const shares = found.follow_light.map((share) => this.say("follow_share", { share: 100 * share }));
    const rows = [
      [this.say("row_birds"), ...found.birds_out.map((one) => this.bird(one, found.years))],
      [this.say("row_minutes"), ...found.open_after_dark_min.map((one) => this.within(one))],
    ];
    if (found.differences) {
      const name = (key) => `${this.say(key)}, ${this.say("difference")}`;
      rows.push([name("row_birds"), ...found.differences.birds_out.map((one) => this.told(one))]);
      rows.push([name("row_minutes"), ...found.differences.open_after_dark_min.map((one) => this.told(one))]);
    }
    const parts = [this.scrolled(this.say("follow"), this.table(this.say("follow"), ["", ...shares], rows))];
    parts.push(made("p", this.say("birds_note", found), { class: "quiet" }));
    if (found.apart) parts.push(made("p", this.say("birds_apart")));
    parts.push(made("ul", found.limits.map((limit) => made("li", limit)), { lang: "en", class: "quiet" }));
    return parts;
  }

  tableSize(found) {
    const words = found.image_bytes > found.room_bytes ? "table_over" : "table_words";
    return [made("p", this.say(words, { image: found.image_bytes, layout: found.layout, board: found.board, room: found.room_bytes }))];
  }

  battery(found) {
    if (!found.described) return [made("p", this.say("battery_none"))];
    const values = { flat: found.flat, n: found.winters, drawn: found.flat_drawn, over: found.over_limit };
    const days = this.number(found.days_without_sun);
    return [
      made("p", this.say("battery_words", { ...values, days, month: found.worst_month })),
      made("ul", found.cautions.map((one) => made("li", one)), { lang: "en", class: "quiet" }),
    ];
  }

  // What Save found in the place of the file that the page has read.
  conflict(got, { words, name }) {
    at("conflict-h").textContent = got.gone ? words.page.conflict_gone : words.page.conflict;
    at("conflict-mine").textContent = got.gone ? words.page.conflict_anew : words.page.conflict_mine;
    at("conflict-leave").textContent = got.gone ? words.page.conflict_leave_gone : words.page.conflict_leave;
    at("conflict-words").textContent = this.say(got.gone ? "gone" : "changed", { name });
    at("conflict-difference").textContent = got.difference;
    at("conflict-difference").hidden = at("conflict-theirs").hidden = got.gone;
  }
}
