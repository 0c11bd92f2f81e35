"use strict";
// The door's own program, compiled for this page: its site, its seconds, what breaks, its log.
// sunsched/controller/c/play/door_play.c is the other side.

const bytesOf = (base64) => Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));

// What break() takes: PLAY_ numbers of door_play.c.
const BREAKS = {
  top_switch: 0, bottom_switch: 1, wires_swapped: 2, jam_mm: 3, frozen: 4, cord_backwards: 5, hands: 6, battery_counts: 7,
  clock_absent: 8, clock_halted: 9, clock_stopped: 10, clock_by_s: 11, clock_cell_low: 12,
};
const HAND_UP = 4, HAND_DOWN = 8, KEEP_SHUT = 16; // BOARD_ bits of door_board.h
// The order of play_seen_t.
const SEEN = [
  "want", "reason", "door", "time", "drive", "duty", "alarms", "ownDay", "ownMin", "ownSecond", "top", "bottom", "lamp",
  "height", "powered", "clockValid", "clockS", "proven", "known", "shiftMin", "lastOffMin", "taught", "cycleKnown", "tMin",
  "closeTMin", "openTMin", "lightCounts",
];
const TEXT_ROOM = 64;

class Door {
  // A door that has not been powered up; `site` has what a chip's program has compiled in.
  static async of(module, site) {
    return new Door(await WebAssembly.instantiate(module, {}), site);
  }

  constructor(instance, site) {
    this.c = instance.exports;
    this.bytes = new Uint8Array(this.c.memory.buffer);
    this.log = "";
    const settings = bytesOf(site.settings), tables = bytesOf(site.tables);
    if (settings.length > this.c.settings_size() || tables.length > this.c.tables_room()) throw new RangeError("site");
    this.bytes.set(settings, this.c.settings_at());
    this.bytes.set(tables, this.c.tables_at());
    this.c.site_is(site.offset, tables.length, site.low, site.spent, site.clock);
    for (const [mark, text] of [["@site name.@", site.name], ["@program...@", site.program], ["@plan......@", site.plan]]) {
      this.write(this.find(mark), text, TEXT_ROOM);
    }
    const m = site.machine;
    this.c.machine_is(m.travel, m.speed, m.cord, m.current, m.down ? 1 : 0);
    this.break("battery_counts", m.counts);
  }

  find(mark) {
    const wanted = [...mark].map((letter) => letter.charCodeAt(0));
    for (let at = this.bytes.indexOf(wanted[0]); at >= 0; at = this.bytes.indexOf(wanted[0], at + 1)) {
      if (wanted.every((byte, k) => this.bytes[at + k] === byte)) return at;
    }
    throw new RangeError(mark);
  }

  // ASCII with a zero behind it.
  write(at, text, room) {
    const cut = text.slice(0, room - 1);
    for (let k = 0; k < cut.length; k++) this.bytes[at + k] = cut.charCodeAt(k) & 127;
    this.bytes[at + cut.length] = 0;
  }

  // Seconds of the clock chip since 2000-01-01; the first second adds one.
  firstPowerUp(clockS) { this.c.first_power_up(clockS); }

  powerOff() { this.c.power_off(); }

  powerUp(cause = 1) { this.c.power_up(cause); }

  second(counts) { this.c.second(counts); }

  break(what, value) {
    if (!(what in BREAKS)) throw new RangeError(what);
    this.c.break(BREAKS[what], Number(value));
  }

  say(text) {
    this.write(this.c.said_at(), text, 80);
    this.c.say();
  }

  get wrote() { return this.c.log_length() > 0; }

  // What the program has written since this was last asked.
  takeLog() {
    const at = this.c.log_at(), n = this.c.log_length();
    let text = "";
    for (let k = 0; k < n; k++) text += String.fromCharCode(this.bytes[at + k]);
    this.c.log_clear();
    return text;
  }

  look() {
    const values = new Int32Array(this.c.memory.buffer, this.c.look(), SEEN.length);
    return Object.fromEntries(SEEN.map((name, k) => [name, values[k]]));
  }

  eeprom() { return this.bytes.slice(this.c.eeprom_at(), this.c.eeprom_at() + 1024); }
}
