"use strict";
// Fills the card for the date on the browser's clock, or for any other, and reads days off the year's map.
// The page is complete without it.
(() => {
  const at = (id) => document.getElementById(id);
  const source = at("reader-data");
  const card = at("tonight");
  if (!source || !card) return;
  const year = JSON.parse(source.textContent);
  const last = year.open.length - 1;
  const firstUtc = Date.UTC(year.first[0], year.first[1] - 1, year.first[2]);
  const DAY_MS = 86400000;
  const map = at("year");
  const slider = at("reader-day");
  const picker = at("day-date");
  let shown = 0;
  let today = false;

  const two = (n) => String(n).padStart(2, "0");
  const clock = (minute) => {
    const ofDay = ((minute % 1440) + 1440) % 1440;
    const text = two(Math.floor(ofDay / 60)) + ":" + two(ofDay % 60);
    return minute < 0 ? text + " the day before" : minute > 1439 ? text + " next day" : text;
  };
  const dateOf = (day) => new Date(firstUtc + day * DAY_MS);
  const dayOf = (iso) => Math.round((Date.parse(iso) - firstUtc) / DAY_MS);
  const isoOf = (day) => dateOf(day).toISOString().slice(0, 10);
  const dateText = (day, withYear) => {
    const date = dateOf(day);
    const text = year.weekdays[(date.getUTCDay() + 6) % 7] + " " + date.getUTCDate() + " " + year.months[date.getUTCMonth()];
    return withYear ? text + " " + date.getUTCFullYear() : text;
  };

  // The date and the minute at the site, by the browser's clock.
  const now = () => {
    const parts = {};
    const fields = { year: "numeric", month: "numeric", day: "numeric", hour: "numeric", minute: "numeric", hourCycle: "h23" };
    let format;
    try {
      format = new Intl.DateTimeFormat("en-GB", { ...fields, timeZone: year.zone });
    } catch {
      format = new Intl.DateTimeFormat("en-GB", fields); // a browser that does not know the zone
    }
    for (const part of format.formatToParts(new Date())) parts[part.type] = Number(part.value);
    const day = Math.round((Date.UTC(parts.year, parts.month - 1, parts.day) - firstUtc) / DAY_MS);
    return { day, minute: parts.hour * 60 + parts.minute };
  };

  // Where the door should be now: the last thing that was due by now, of yesterday, today and tomorrow; and the next.
  const state = (day, minute) => {
    const due = [{ when: -Infinity, word: "down" }, { when: Infinity, word: "" }];
    for (const row of [day - 1, day, day + 1]) {
      if (row < 0 || row > last || year.open[row] === null) continue;
      const shift = (row - day) * 1440;
      due.push({ when: year.openFirst[row] + shift, word: "opening" });
      due.push({ when: year.openLast[row] + year.tries + shift, word: "up" });
      due.push({ when: year.closeFirst[row] + shift, word: "closing" });
      due.push({ when: year.look[row] + shift, word: "down" });
    }
    due.sort((one, other) => one.when - other.when);
    const next = due.findIndex((one) => one.when > minute);
    return { word: due[next - 1].word, until: due[next].when };
  };
  const STATES = { opening: "opening; up by ", up: "up until ", closing: "closing; down by ", down: "down until " };
  const nowWords = (day, minute) => {
    const { word, until } = state(day, minute);
    const where = until === Infinity ? word : STATES[word] + clock(until);
    return "Now, " + clock(minute) + ": the door should be " + where + ".";
  };

  const outside = (day) => {
    if (day < 0) return "This page begins on " + dateText(0, true) + ", which is still to come.";
    if (day > last) return "This page ended on " + dateText(last, true) + ": have the page of this year made.";
    return "";
  };

  const between = (side, day) => {
    const first = year[side + "First"][day];
    const end = year[side + "Last"][day];
    return first === end ? "at " + clock(first) : "between " + clock(first) + " and " + clock(end);
  };
  const planned = (side, day) => {
    const why = year.reasons[year[side + "Why"][day]];
    const byClock = year[side + "First"][day] === year[side + "Last"][day];
    return byClock ? "by the clock alone, planned by " + why : "planned " + clock(year[side][day]) + " by " + why;
  };
  const capital = (text) => text[0].toUpperCase() + text.slice(1);
  const line = (text, kind) => {
    const one = document.createElement("p");
    one.textContent = text;
    if (kind) one.className = kind;
    return one;
  };
  const morning = (day) => {
    if (day > last) return line("The next morning is in next year's page.");
    if (year.open[day] === null) return line(dateText(day) + ": " + year.notes[day] + ".");
    return line("Opens " + dateText(day) + " " + between("open", day) + ", " + planned("open", day) + ".");
  };
  const lines = (day) => {
    const found = [];
    if (year.open[day] === null) {
      const why = year.notes[day];
      found.push(line("The door stays down", "big"), line(capital(why) + "."));
      found.push(line("The birds need light, water, food and air inside.", "look"));
    } else {
      const why = planned("close", day);
      found.push(line("Down " + between("close", day), "big"), line(capital(why) + "."));
      found.push(line("Look at " + clock(year.look[day]) + ": door down, birds counted.", "look"));
    }
    found.push(morning(day + 1));
    // What is unusual stands below the opening that it concerns; on a day without one the note is its reason.
    const noted = (of, head) => {
      if (year.open[of] !== null && year.notes[of]) found.push(line(head + ": " + year.notes[of] + ".", "note"));
    };
    if (day < last) noted(day + 1, "Note for " + dateText(day + 1));
    if (year.open[day] !== null) found.push(line("That morning, " + dateText(day) + ": opens " + between("open", day) + ".", "quiet"));
    noted(day, "Note for that morning");
    return found;
  };

  // The map's sentence of a day.
  const sentence = (day) => {
    if (year.open[day] === null) return dateText(day, true) + ": " + year.notes[day];
    const move = (word, side) => word + " " + clock(year[side][day]) + " by " + year.reasons[year[side + "Why"][day]];
    const parts = [move("opens", "open"), move("closes", "close")];
    if (day < last && year.open[day + 1] !== null) parts.push("next opening " + clock(year.open[day + 1]));
    return dateText(day, true) + ": " + parts.join("; ");
  };
  const place = (dot, minute, y) => {
    dot.setAttribute("visibility", minute === null ? "hidden" : "inherit");
    if (minute === null) return;
    const share = (minute - year.map.from) / (year.map.until - year.map.from);
    dot.setAttribute("cx", String(year.map.left + share * (year.map.right - year.map.left)));
    dot.setAttribute("cy", String(y));
  };
  const mark = (day) => {
    const y = year.map.top + year.map.row * (day + 1.5);
    const next = day < last ? year.open[day + 1] : null;
    const group = at("year-mark");
    group.firstElementChild.setAttribute("y1", String(y));
    group.firstElementChild.setAttribute("y2", String(y));
    place(at("year-mark-close"), year.close[day], y);
    place(at("year-mark-open"), next === null ? null : next + 1440, y);
    group.setAttribute("visibility", "visible");
  };

  // `asked`: the page's address names the date, so that it need not be said where today lies.
  const show = (day, asked) => {
    shown = Math.min(Math.max(day, 0), last);
    const here = now();
    today = here.day === shown;
    at("tonight-h").textContent = (today ? "Tonight, " : "") + dateText(shown, true);
    const inside = lines(shown);
    at("tonight-now").textContent = today ? nowWords(here.day, here.minute) : asked ? "" : outside(here.day);
    at("tonight-text").replaceChildren(...inside);
    picker.value = isoOf(shown);
    at("day-before").disabled = shown === 0;
    at("day-after").disabled = shown === last;
    at("day-today").disabled = today || here.day < 0 || here.day > last;
    slider.value = String(shown);
    const words = sentence(shown);
    slider.setAttribute("aria-valuetext", words);
    at("reader-text").textContent = words;
    mark(shown);
  };

  const follow = (event) => {
    const matrix = map.getScreenCTM();
    if (!matrix) return;
    const y = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse()).y;
    const day = Math.floor((y - year.map.top) / year.map.row) - 1;
    if (day >= -1 && day <= last + 1) show(day);
  };
  map.addEventListener("pointermove", follow);
  map.addEventListener("pointerdown", follow);
  slider.max = String(last);
  slider.addEventListener("input", () => show(Number(slider.value)));
  at("day-before").addEventListener("click", () => show(shown - 1));
  at("day-after").addEventListener("click", () => show(shown + 1));
  at("day-today").addEventListener("click", () => show(now().day));
  picker.addEventListener("change", () => {
    if (picker.value) show(dayOf(picker.value));
    else show(shown);
  });

  // A wide screen has room for every warning; paper takes the months too.
  const open = (selector) => document.querySelectorAll(selector).forEach((one) => { one.open = true; });
  if (matchMedia("(min-width:62rem)").matches) open(".wide");
  addEventListener("beforeprint", () => open(".month, .wide"));
  const openAll = at("months-open");
  openAll.addEventListener("click", () => open(".month"));
  openAll.hidden = false;
  // A link to a folded part opens it; #2027-06-21 behind the page's address shows that day.
  const openTarget = () => {
    if (/^#\d{4}-\d\d-\d\d$/.test(location.hash)) {
      show(dayOf(location.hash.slice(1)), true);
      return;
    }
    const target = location.hash && at(decodeURIComponent(location.hash.slice(1)));
    const fold = target && (target.localName === "details" ? target : target.querySelector(":scope > details"));
    if (fold) fold.open = true;
  };
  addEventListener("hashchange", openTarget);
  document.querySelectorAll('a[href^="#month-"]').forEach((link) => {
    link.addEventListener("click", () => open(link.getAttribute("href")));
  });

  card.hidden = false;
  at("reader").hidden = false;
  show(now().day);
  openTarget();
  // The minute goes on while the page stays open; a day that was asked for stays.
  setInterval(() => {
    const here = now();
    if (today && here.day !== shown) show(here.day);
    else if (today) at("tonight-now").textContent = nowWords(here.day, here.minute);
  }, 20000);
})();
