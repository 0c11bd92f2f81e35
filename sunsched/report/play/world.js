// A door in its world: days lived before, an evening from a minute on, and what happens in it. No page is needed for it.

const EPOCH_2000_DAY = 10957;
const BEFORE_S = 3600;     // the play begins so long before the light may move the door
const HAND_S = 5;          // how long a hand switch is held: it counts after 3
const MOST_POINTS = 6000;  // minutes kept for the chart, at least half of them: it shows a day of 1,440
const TYPED_S = 30;        // a site without a clock chip is told the time so long after its first power-up

const two = (n) => String(n).padStart(2, "0");
const clockOf = (s) => two(Math.floor(s / 3600) % 24) + ":" + two(Math.floor(s / 60) % 60) + ":" + two(s % 60);
const isoOf = (s) => new Date(s * 1000).toISOString().slice(0, 10);

class World {
  // data: what sunsched has worked out. Seconds are of the chip's true time, since 1970-01-01.
  constructor(module, data) {
    this.module = module;
    this.data = data;
    this.sky = new Sky(data.sky, data.cell);
  }

  midnight(row) { return (this.data.firstDay + row) * DAY_S; }

  at(row, minute) { return this.midnight(row) + minute * 60; }

  // A second of the chip's time as the clocks of the place show it.
  local(s) {
    const row = clipped(this.rowOf(s), 0, this.data.civil.length - 1);
    return s + (this.data.civil[row] - this.data.offset) * 60;
  }

  rowOf(s) { return Math.floor(s / DAY_S) - this.data.firstDay; }

  moves(row) { return this.data.close[row] !== null; }

  // When a play of a date begins: an hour before its evening's or morning's window, or at solar noon.
  beginning(row, begin) {
    const days = this.data;
    if (!this.moves(row) || begin === "noon") return this.at(row, days.noon[row]);
    return this.at(row, begin === "morning" ? days.openFirst[row] : days.closeFirst[row]) - BEFORE_S;
  }

  // Powers a new door up and lives the nights before, up to the beginning.
  async start(row, begin, kind) {
    const days = this.data;
    const closings = [0, 1, 2, 3].map((k) => row + k).filter((k) => this.moves(k)).map((k) => this.at(k, days.close[k]));
    this.door = await Door.of(this.module, { ...days.site, machine: { ...days.machine, down: false } });
    this.weather = new Weather(kind, this.midnight(row), closings);
    this.due = [];
    this.points = [];
    this.offUntilS = 0;
    this.broken = {};
    const first = row - days.nights;
    this.s = this.at(first, days.noon[first]);
    this.door.firstPowerUp(this.s - EPOCH_2000_DAY * DAY_S - 1);
    if (!days.hasClock) this.later(TYPED_S, () => this.typeTime(0));
    const until = this.beginning(row, begin);
    this.log = "";
    while (this.s < until) this.second();
    this.log += this.door.takeLog();
    this.beganS = this.s;
  }

  // Does something `seconds` from now.
  later(seconds, what) {
    this.due.push({ at: this.s + seconds, what });
    this.due.sort((one, other) => one.at - other.at);
  }

  lux(s) {
    const log = this.sky.clearLogAt(s - this.data.offset * 60) + this.weather.log(s);
    return 10 ** log * this.data.cell.view + this.weather.lamps(s);
  }

  clearLux(s) { return 10 ** this.sky.clearLog((s / 60) - this.data.offset) * this.data.cell.view; }

  second() {
    while (this.due.length && this.due[0].at <= this.s) this.due.shift().what();
    const lux = this.lux(this.s);
    this.door.second(this.sky.counts(lux));
    if (this.s % 60 === 0) {
      this.points.push([this.s, lux, this.door.look().height / 10]);
      if (this.points.length > MOST_POINTS) this.points.splice(0, MOST_POINTS / 2);
    }
    this.s += 1;
  }

  // Lives n seconds; returns the lines that the program has written, and ends early where `ends(line)` holds for one.
  live(n, ends = () => false) {
    const lines = [];
    for (let k = 0; k < n; k++) {
      this.second();
      if (!this.door.wrote) continue;
      const text = this.door.takeLog();
      this.log += text;
      for (const line of text.split("\n")) if (line) lines.push({ s: this.s - 1, line });
      if (lines.some(({ line }) => ends(line))) break;
    }
    return lines;
  }

  // What the program writes at once, without a second passing.
  heard() {
    const text = this.door.takeLog();
    this.log += text;
    return text.split("\n").filter(Boolean).map((line) => ({ s: this.s, line }));
  }

  typeTime(byMin) {
    const s = this.s + byMin * 60;
    this.door.say("t " + isoOf(s) + " " + clockOf(s) + "\r");
  }

  // The keeper sets the clock; a change that the program asks about is sent again.
  setClock(byMin, insist) {
    this.typeTime(byMin);
    if (insist) this.later(20, () => this.typeTime(byMin));
  }

  powerCut(seconds) {
    if (this.offUntilS > this.s) return;
    this.door.powerOff();
    this.offUntilS = this.s + seconds;
    this.later(seconds, () => this.door.powerUp());
  }

  hand(bit) {
    this.door.break("hands", bit | (this.broken.keep_shut ? KEEP_SHUT : 0));
    this.later(HAND_S, () => this.door.break("hands", this.broken.keep_shut ? KEEP_SHUT : 0));
  }

  // One thing of the page's list, switched on, off or to a value.
  break(what, value) {
    this.broken[what] = value;
    if (what === "lamp") this.weather.lampLux = value;
    else if (what === "snow") this.weather.snow(this.s, value);
    else if (what === "keep_shut") this.door.break("hands", value ? KEEP_SHUT : 0);
    else if (what === "battery_spent") this.door.break("battery_counts", value ? 0 : this.data.machine.counts);
    else if (what === "jam") this.door.break("jam_mm", value ? this.data.machine.travel / 2 : 0);
    else this.door.break(what, value);
  }
}
