// Lives recorded seconds on an emulated RP2040: node live.mjs MODULE PLAN.json
// The plan names the program, the stand-in for the boot ROM, the record, pins and places in RAM. Written back into its
// folder: given.bin (inputs and outputs of each second, the motor's pins), log.txt, kept.bin, and a line of JSON.
import fs from "fs";
import path from "path";
import { SECOND, boardOf } from "./board.mjs";

const [module, planFile] = process.argv.slice(2);
const plan = JSON.parse(fs.readFileSync(planFile, "utf8"));
const folder = path.dirname(planFile);
const board = await boardOf(module, plan);
const { rp, pins } = { rp: board.rp, pins: plan.pins };
const record = fs.readFileSync(plan.record);
const given = Buffer.alloc(plan.seconds * (plan.in_bytes + plan.out_bytes + 2));

board.switches(record[plan.at.top], record[plan.at.bottom]);
board.setTime(plan.first_s - 1);
board.boot();
board.runUntil(SECOND / 2);
board.awake = 0;
let [second, at] = [0, 0];
const origin = SECOND / 2;
for (let from = 0; from < record.length; from += plan.run_bytes) {
  const row = record.subarray(from, from + plan.run_bytes);
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
fs.writeFileSync(path.join(folder, "given.bin"), given.subarray(0, at));
fs.writeFileSync(path.join(folder, "log.txt"), board.log, "latin1");
fs.writeFileSync(path.join(folder, "kept.bin"), board.ram(plan.kept_at, 1024));
fs.writeFileSync(path.join(folder, "flash.bin"), rp.flash.subarray(0x1f8000, 0x200000));
const { awake, resets, both } = board;
console.log(JSON.stringify({ seconds: second, awake, resets, both, ...board.counted() }));
