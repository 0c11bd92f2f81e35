"use strict";
// Reads any day off the year's map: by pointer on the map, by keys on the slider. The page is complete without it.
(() => {
  const holder = document.getElementById("reader");
  const map = document.getElementById("year");
  const source = document.getElementById("reader-data");
  if (!holder || !map || !source) return;
  const year = JSON.parse(source.textContent);
  const slider = document.getElementById("reader-day");
  const output = document.getElementById("reader-text");
  const mark = document.getElementById("year-mark");
  const dots = { close: document.getElementById("year-mark-close"), open: document.getElementById("year-mark-open") };
  const last = year.open.length - 1;

  const clock = (minute) => {
    const size = Math.abs(minute);
    const two = (n) => String(n).padStart(2, "0");
    return (minute < 0 ? "-" : "") + two(Math.floor(size / 60)) + ":" + two(size % 60);
  };
  const dateText = (day) => {
    const date = new Date(Date.UTC(year.first[0], year.first[1] - 1, year.first[2] + day));
    const week = year.words.weekdays[(date.getUTCDay() + 6) % 7];
    return week + " " + date.getUTCDate() + " " + year.words.months[date.getUTCMonth()] + " " + date.getUTCFullYear();
  };
  const move = (word, minute, why) => word + " " + clock(minute) + " (" + year.words.reasons[why] + ")";
  const sentence = (day) => {
    if (year.open[day] === null) {
      return dateText(day) + ": " + year.words.down + " (" + year.words.reasons[year.openWhy[day]] + ")";
    }
    const parts = [
      move(year.words.opens, year.open[day], year.openWhy[day]),
      move(year.words.closes, year.close[day], year.closeWhy[day]),
    ];
    if (day < last && year.open[day + 1] !== null) parts.push(year.words.next + " " + clock(year.open[day + 1]));
    return dateText(day) + ": " + parts.join(", ");
  };
  const place = (dot, minute, y) => {
    dot.setAttribute("visibility", minute === null ? "hidden" : "inherit");
    if (minute === null) return;
    const share = (minute - year.map.from) / (year.map.until - year.map.from);
    dot.setAttribute("cx", String(year.map.left + share * (year.map.right - year.map.left)));
    dot.setAttribute("cy", String(y));
  };
  const show = (day) => {
    const y = year.map.top + year.map.row * (day + 1.5);
    const next = day < last ? year.open[day + 1] : null;
    const line = mark.firstElementChild;
    line.setAttribute("y1", String(y));
    line.setAttribute("y2", String(y));
    place(dots.close, year.close[day], y);
    place(dots.open, next === null ? null : next + 1440, y);
    mark.setAttribute("visibility", "visible");
    const words = sentence(day);
    slider.value = String(day);
    slider.setAttribute("aria-valuetext", words);
    output.textContent = words;
  };
  const follow = (event) => {
    const matrix = map.getScreenCTM();
    if (!matrix) return;
    const y = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse()).y;
    const day = Math.floor((y - year.map.top) / year.map.row) - 1;
    if (day >= -1 && day <= last + 1) show(Math.min(Math.max(day, 0), last));
  };
  map.addEventListener("pointermove", follow);
  map.addEventListener("pointerdown", follow);
  slider.max = String(last);
  slider.addEventListener("input", () => show(Number(slider.value)));
  holder.hidden = false;
  show(0);
})();
