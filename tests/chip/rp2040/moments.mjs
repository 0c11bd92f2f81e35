// What the board does between two steps: node moments.mjs MODULE PLAN.json prints a line of JSON.
import fs from "fs";
import { SECOND, boardOf } from "./board.mjs";

const [module, planFile] = process.argv.slice(2);
const plan = JSON.parse(fs.readFileSync(planFile, "utf8"));
const board = await boardOf(module, plan);
const { rp } = board;
const { pins } = plan;
const said = {};
let now = 0;
const run = (seconds) => board.runUntil((now += seconds * SECOND));
const type = (text) => [...text].forEach((letter) => (rp.uart[0].feedByte(letter.charCodeAt(0)), run(0.002)));
// A second with the clock's pulse.
let clock = plan.first_s;
const pulsed = (seconds = 1) => {
  for (let n = 0; n < seconds; n++) {
    board.setTime(clock++);
    board.level(pins.pulse, false);
    run(0.5);
    board.level(pins.pulse, true);
    run(0.5);
  }
};
const ownSecond = () => Buffer.from(board.ram(plan.out_at, plan.out_bytes)).readUInt16LE(4);

// Power up: the motor's pins are outputs and low before anything else, and stay so.
const levelsSeen = [];
for (const pin of [pins.raise, pins.lower]) rp.gpio[pin].addListener((state) => levelsSeen.push(state));
rp.adc.channelValues[pins.cell] = 1000 * 4;
rp.adc.channelValues[pins.battery] = plan.battery[0] * 4;
board.switches(0, 1);
board.setTime(clock - 1);
board.boot();
run(0.5);
said.motorAtStart = [...levelsSeen];
pulsed(5);

// The keeper holds the raise button; the motor runs, and the upper switch cuts it between two steps.
board.level(pins.hand.up, false);
for (let n = 0; n < 20 && board.motor() === 0; n++) pulsed();
said.raising = [board.motor(), board.speed()];
board.switches(0, 0);
pulsed(3);
run(0.3);
const before = rp.clock.nanos;
board.switches(1, 0);
while (board.motor() !== 0 && rp.clock.nanos - before < SECOND) board.runUntil(rp.clock.nanos + 100);
said.cutAfterMicroseconds = (rp.clock.nanos - before) / 1000;
// A glitch of 5 ms, and the run goes on; then the switch stays made.
board.runUntil(rp.clock.nanos + 5e6);
board.switches(0, 0);
board.runUntil(rp.clock.nanos + 3e7);
said.afterGlitch = board.motor();
board.switches(1, 0);
board.runUntil(rp.clock.nanos + 3e7);
said.atEnd = board.motor();
now = rp.clock.nanos;
board.level(pins.hand.up, true);
pulsed(5);
said.released = [board.motor(), board.speed()];

// The serial line.
board.log = "";
type("\rv\r");
run(0.5);
said.line = board.log;

// Without a pulse the crystal's own seconds are counted: a line of the log a second is not to be had, so minutes are.
const minute = ownSecond();
run(180);
said.minutesWithoutPulse = ownSecond() - minute;

// A program that hangs is reset after 4 s.
said.resetsBefore = board.resets;
rp.core.PM = true;
rp.core.waiting = true;
rp.core.enabledInterrupts = 0;
const hung = rp.clock.nanos;
board.runUntil(hung + 10 * SECOND); // ends at a reset
said.hungSeconds = (rp.clock.nanos - hung) / SECOND;
said.faults = board.counted().faults;
said.both = board.both;
console.log(JSON.stringify(said));
