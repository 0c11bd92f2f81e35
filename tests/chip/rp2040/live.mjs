// Lives recorded seconds on an emulated RP2040: node live.mjs MODULE PLAN.json
// The plan names the program, the stand-in for the boot ROM, the record, pins and places in RAM. Written back into its
// folder: given.bin (inputs and outputs of each second, the motor's pins), log.txt, kept.bin, and a line of JSON.
import fs from "fs";
import path from "path";
import { SECOND, boardOf } from "./board.mjs";

const [module, planFile] = process.argv.slice(2);
const plan = JSON.parse(fs.readFileSync(planFile, "utf8"));
const folder = path.dirname(planFile);
const { pins } = plan;
let board;
let [second, at, origin, awake, resets, both, faults] = [0, 0, 0, 0, 0, 0, 0];
let log = "";
const record = fs.readFileSync(plan.record);
const given = Buffer.alloc(plan.seconds * (plan.in_bytes + plan.out_bytes + 2));

// What one life of the chip has counted: its RAM, where the stack's traces are, ends with it.
function counted() {
  [awake, resets, both] = [awake + board.awake, resets + board.resets, both + board.both];
  faults += board.counted().faults;
  log += board.log;
}

// Power comes: another chip, but for what its flash holds.
async function powered(row, flash) {
  board = await boardOf(module, plan);
  if (flash) board.rp.flash.set(flash);
  board.switches(row[plan.at.top], row[plan.at.bottom]);
  board.setTime(plan.first_s + second - 1);
  board.boot();
  board.runUntil(SECOND / 2);
  board.awake = 0;
  origin = SECOND / 2 - second * SECOND;
}

await powered(record, null);
for (let from = 0; from < record.length; from += plan.run_bytes) {
  const row = record.subarray(from, from + plan.run_bytes);
  if (plan.cuts.includes(second)) {
    counted();
    await powered(row, board.rp.flash);
  }
  const { rp } = board;
  board.lux = row.readUInt16LE(plan.at.light_counts);
  rp.adc.channelValues[pins.cell] = board.lux * 4 + 2;
  rp.adc.channelValues[pins.battery] = plan.battery[row[plan.at.battery]] * 4 + 2;
  board.level(pins.hand.up, row[plan.at.hand] !== 1);
  board.level(pins.hand.down, row[plan.at.hand] !== 2);
  board.level(pins.hand.keep_shut, !row[plan.at.keep_shut]);
  for (let n = row.readUInt16LE(0); n > 0; n--) {
    board.switches(row[plan.at.top], row[plan.at.bottom]);
    board.setTime(plan.first_s + second);
    board.level(pins.pulse, false);
    board.runUntil(origin + second * SECOND + SECOND / 2);
    for (const byte of board.ram(plan.in_at, plan.in_bytes)) given[at++] = byte;
    for (const byte of board.ram(plan.out_at, plan.out_bytes)) given[at++] = byte;
    given[at++] = board.motor();
    given[at++] = board.speed();
    board.level(pins.pulse, true);
    board.runUntil(origin + (second + 1) * SECOND);
    second++;
  }
}
counted();
fs.writeFileSync(path.join(folder, "given.bin"), given.subarray(0, at));
fs.writeFileSync(path.join(folder, "log.txt"), log, "latin1");
fs.writeFileSync(path.join(folder, "kept.bin"), board.ram(plan.kept_at, 1024));
console.log(JSON.stringify({ ...board.counted(), seconds: second, awake, resets, both, faults }));
