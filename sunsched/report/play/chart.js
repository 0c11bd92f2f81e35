// Light at the cell and the door against time: hours of the world, drawn as they are lived.

const CHART = { left: 52, right: 448, top: 12, low: 212, stripTop: 226, stripLow: 244, ticks: 266, lowLog: -3, highLog: 5 };
const SVG = "http://www.w3.org/2000/svg";

class Chart {
  constructor(svg, world, words) {
    Object.assign(this, { svg, world, words, hours: 4, fromS: NaN });
  }

  x(s) { return CHART.left + ((s - this.fromS) / (this.hours * 3600)) * (CHART.right - CHART.left); }

  y(lux) {
    const share = (Math.log10(Math.max(lux, 10 ** CHART.lowLog)) - CHART.lowLog) / (CHART.highLog - CHART.lowLog);
    return CHART.low - clipped(share, 0, 1) * (CHART.low - CHART.top);
  }

  add(tag, attributes, text = "") {
    const one = document.createElementNS(SVG, tag);
    for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, typeof value === "number" ? value.toFixed(1) : value);
    one.textContent = text;
    this.svg.append(one);
    return one;
  }

  // The hours around now: from a whole hour before the play's beginning on, a span at a time.
  frame() {
    const firstS = Math.floor(this.world.beganS / 3600) * 3600;
    const spanS = this.hours * 3600;
    return firstS + Math.floor((this.world.s - firstS) / spanS) * spanS;
  }

  inside(s) { return s >= this.fromS && s <= this.fromS + this.hours * 3600; }

  // What stands still while a span is lived.
  ground() {
    const { world, words } = this, data = world.data;
    this.svg.replaceChildren();
    const untilS = this.fromS + this.hours * 3600;
    for (let row = world.rowOf(this.fromS) - 1; row <= world.rowOf(untilS) + 1; row++) this.windows(row);
    for (let log = CHART.lowLog; log <= CHART.highLog; log++) {
      const y = this.y(10 ** log);
      this.add("line", { class: "grid", x1: CHART.left, x2: CHART.right, y1: y, y2: y });
      if (log % 2 === 0) {
        const name = log < 0 ? String(10 ** log) : log > 3 ? 10 ** (log - 3) + "k" : String(10 ** log);
        this.add("text", { class: "label", x: CHART.left - 6, y: y + 5, "text-anchor": "end" }, name);
      }
    }
    const everyS = this.hours > 4 ? 6 * 3600 : 3600;
    for (let s = Math.ceil(this.fromS / 3600) * 3600; s <= untilS; s += 3600) {
      const local = world.local(s);
      if (Math.floor(local / 3600) % (everyS / 3600)) continue;
      const end = this.x(s) > CHART.right - 18 ? "end" : this.x(s) < CHART.left + 18 ? "start" : "middle";
      this.add("line", { class: "grid", x1: this.x(s), x2: this.x(s), y1: CHART.low, y2: CHART.stripLow + 4 });
      this.add("text", { class: "label", x: this.x(s), y: CHART.ticks, "text-anchor": end }, clockOf(local).slice(0, 5));
    }
    const steps = 96, clear = [];
    for (let k = 0; k <= steps; k++) {
      const s = this.fromS + (k * this.hours * 3600) / steps;
      clear.push(this.x(s).toFixed(1) + "," + this.y(world.clearLux(s)).toFixed(1));
    }
    this.add("polyline", { class: "clear", points: clear.join(" ") });
    for (const [level, name, down] of [[data.cell.dark, words.dark, 16], [data.cell.bright, words.bright, -6]]) {
      this.add("line", { class: "level", x1: CHART.left, x2: CHART.right, y1: this.y(level), y2: this.y(level) });
      this.add("text", { class: "label halo", x: CHART.left + 4, y: this.y(level) + down }, name.replace("{lux}", level));
    }
    this.add("text", { class: "label", x: CHART.left - 6, y: CHART.stripLow - 4, "text-anchor": "end" }, words.up);
    this.add("text", { class: "label halo", x: CHART.right - 4, y: CHART.top + 16, "text-anchor": "end" }, words.axis);
    this.light = this.add("polyline", { class: "light", points: "" });
    this.strip = this.add("path", { class: "strip", d: "" });
    this.hand = this.add("line", { class: "hand", y1: CHART.top, y2: CHART.stripLow });
  }

  // The planned minutes of a row, and the light's windows around them.
  windows(row) {
    const { world } = this, data = world.data;
    if (row < 0 || row >= data.close.length || !world.moves(row)) return;
    for (const side of ["open", "close"]) {
      const [first, last, planned] = [data[side + "First"], data[side + "Last"], data[side]].map((of) => world.at(row, of[row]));
      if (!this.inside(planned)) continue;
      const height = CHART.low - CHART.top;
      this.add("rect", { class: "window", x: this.x(first), y: CHART.top, width: Math.max(this.x(last) - this.x(first), 0), height });
      this.add("line", { class: "planned", x1: this.x(planned), x2: this.x(planned), y1: CHART.top, y2: CHART.stripLow });
    }
  }

  draw() {
    const { world } = this, from = this.frame();
    if (from !== this.fromS || this.drawn !== this.hours) {
      this.fromS = from;
      this.drawn = this.hours;
      this.ground();
    }
    const line = [], plate = [];
    const travel = world.data.machine.travel, high = CHART.stripLow - CHART.stripTop;
    for (const [s, lux, height] of world.points) {
      if (!this.inside(s)) continue;
      const x = this.x(s).toFixed(1);
      line.push(x + "," + this.y(lux).toFixed(1));
      plate.push(x + " " + (CHART.stripLow - clipped(height / travel, 0, 1) * high).toFixed(1));
    }
    this.light.setAttribute("points", line.join(" "));
    const ends = plate.length ? [plate[0], plate[plate.length - 1]].map((point) => point.split(" ")[0]) : [];
    const floor = CHART.stripLow.toFixed(1);
    this.strip.setAttribute("d", plate.length ? "M" + ends[0] + " " + floor + "L" + plate.join("L") + "L" + ends[1] + " " + floor + "Z" : "");
    const now = this.x(world.s).toFixed(1);
    this.hand.setAttribute("x1", now);
    this.hand.setAttribute("x2", now);
  }
}
