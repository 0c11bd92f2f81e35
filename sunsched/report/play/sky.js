// The light at the cell: a clear sky by the Sun's altitude, weather and lamps on it, and what the cell reads.
// The Sun's daily places and the table of light come from sunsched; in between it is interpolated.

const RADIAN = Math.PI / 180;
const DAY_S = 86400;
const between = (one, other, share) => one + (other - one) * share;
const clipped = (value, low, high) => Math.min(Math.max(value, low), high);

class Sky {
  constructor(sky, cell) {
    this.sky = sky;
    this.cell = cell;
    this.minute = NaN;
  }

  // Degrees, without refraction, at a time in minutes since 1970-01-01 UTC.
  altitude(utcMin) {
    const days = utcMin / 1440 - this.sky.firstDay;
    const k = Math.floor(days), share = days - k;
    const hour = between(this.sky.hourAngle[k], this.sky.hourAngle[k + 1], share) + 360 * share + this.sky.longitude;
    const up = between(this.sky.declination[k], this.sky.declination[k + 1], share) * RADIAN;
    const latitude = this.sky.latitude * RADIAN;
    const sine = Math.sin(latitude) * Math.sin(up) + Math.cos(latitude) * Math.cos(up) * Math.cos(hour * RADIAN);
    return Math.asin(clipped(sine, -1, 1)) / RADIAN;
  }

  // log10 of the lux of a clear sky on level ground.
  clearLog(utcMin) {
    const table = this.sky.light;
    const place = clipped((this.altitude(utcMin) - this.sky.lightFrom) / this.sky.lightStep, 0, table.length - 1.001);
    const k = Math.floor(place);
    return between(table[k], table[k + 1], place - k);
  }

  // The same at a second since 1970-01-01 UTC: straight from one minute to the next.
  clearLogAt(utcS) {
    const minute = Math.floor(utcS / 60);
    if (minute !== this.minute) {
      this.here = minute === this.minute + 1 ? this.next : this.clearLog(minute);
      this.next = this.clearLog(minute + 1);
      this.minute = minute;
    }
    return between(this.here, this.next, utcS / 60 - minute);
  }

  counts(lux) {
    const cell = this.cell;
    if (cell.kind === "lux") return Math.floor(Math.min(lux, cell.mostLux));
    const ohm = cell.r10 * (Math.max(lux, 1e-9) / 10) ** -cell.gamma;
    return Math.min(Math.floor((cell.steps * cell.fixed) / (cell.fixed + ohm)), cell.top);
  }
}

// What weather and people do to the light. Seconds are of the chip's true time.
const OVERCAST_LOG = -1;                                              // a tenth of a clear sky's light
const STORM = { log: -1.1, fromS: -90 * 60, untilS: -20 * 60, rimS: 8 * 60 }; // about the planned closing
const CLOUD = { log: -0.7, lastsS: 8 * 60, rimS: 90 };                // a fifth
const SNOW = { log: -1.5, comesS: 3600, goesS: 300 };                 // a thirtieth, within an hour
const HEADLIGHTS = { lux: 80, lastsS: 20 };

class Weather {
  // kind: clear, dull or storm, from a second on; closings: the planned ones after it.
  constructor(kind, fromS, closings) {
    Object.assign(this, { kind, fromS, closings, clouds: [], snowS: NaN, snowGoneS: NaN, lampLux: 0, flashUntilS: -1 });
  }

  // log10 of the share of the light that is left.
  log(s) {
    let log = 0;
    if (s > this.fromS && this.kind === "dull") log += OVERCAST_LOG * Math.min(1, (s - this.fromS) / 1800);
    if (this.kind === "storm") for (const at of this.closings) log += this.dip(s, at + STORM.fromS, at + STORM.untilS, STORM);
    for (const at of this.clouds) log += this.dip(s, at, at + CLOUD.lastsS, CLOUD);
    if (s > this.snowS) {
      const come = Math.min(1, (s - this.snowS) / SNOW.comesS);
      const gone = s > this.snowGoneS ? Math.min(1, (s - this.snowGoneS) / SNOW.goesS) : 0;
      log += SNOW.log * Math.max(0, come - gone);
    }
    return log;
  }

  dip(s, fromS, untilS, { log, rimS }) {
    return s <= fromS || s >= untilS ? 0 : log * Math.min(1, (s - fromS) / rimS, (untilS - s) / rimS);
  }

  lamps(s) { return this.lampLux + (s < this.flashUntilS ? HEADLIGHTS.lux : 0); }

  cloud(s) { this.clouds.push(s); }

  headlights(s) { this.flashUntilS = s + HEADLIGHTS.lastsS; }

  snow(s, on) {
    if (on) { this.snowS = s; this.snowGoneS = NaN; } else this.snowGoneS = s;
  }
}
