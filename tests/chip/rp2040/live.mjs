// Lives recorded seconds on an emulated RP2040: node live.mjs MODULE PLAN.json
// The plan names the program, the stand-in for the boot ROM, the record, pins and places in RAM. Written back into its
// folder: given.bin (inputs and outputs of each second, the motor's pins), log.txt, kept.bin, and a line of JSON.
import fs from "fs";
import path from "path";
import { pathToFileURL } from "url";

const [module, planFile] = process.argv.slice(2);
const { RP2040, ConsoleLogger, LogLevel } = await import(pathToFileURL(module).href);
const plan = JSON.parse(fs.readFileSync(planFile, "utf8"));
const folder = path.dirname(planFile);
const program = fs.readFileSync(plan.program);
const rp = new RP2040();
rp.logger = new ConsoleLogger(LogLevel.Error, true);
const { core, clock, gpio } = rp;
const COUNTERS = 0x20041000;
const RAM = 0x20000000;

// What the boot ROM does: checks the second stage's CRC-32, copies it to RAM and runs it with nothing to return to.
function boot() {
  let crc = 0xffffffff;
  for (const byte of program.subarray(0, 252)) {
    crc ^= byte << 24;
    for (let bit = 0; bit < 8; bit++) crc = crc & 0x80000000 ? (crc << 1) ^ 0x04c11db7 : crc << 1;
  }
  if (crc >>> 0 !== program.readUInt32LE(252)) throw new Error("the second stage's checksum is wrong");
  core.reset();
  rp.sram.fill(0xa5); // what the stack has used will no longer bear this
  rp.sram.fill(0, COUNTERS - RAM, COUNTERS - RAM + 16);
  rp.sram.set(program.subarray(0, 256), 0x41f00);
  core.registers[13] = 0x20041f00;
  core.registers[14] = 0;
  core.PC = 0x20041f00;
}

rp.bootrom.set(new Uint32Array(new Uint8Array(fs.readFileSync(plan.rom)).slice().buffer));
rp.flash.set(program);
if (plan.kept) rp.flash.set(fs.readFileSync(plan.kept), 0x1f8000);
// The register that says why the chip has started, which the emulator lacks: a power-up.
const causes = { readUint32: () => 0x100, writeUint32: () => {}, writeUint32Atomic: () => {} };
rp.peripherals[0x40064] = causes;
let resets = 0;
rp.peripherals[0x40058].onWatchdogTrigger = () => resets++;
let log = "";
rp.uart[0].onByte = (byte) => (log += String.fromCharCode(byte));

// A DS3231: the time of the record, registers written as they are.
const registers = new Uint8Array(19);
let pointer = -1;
const bcd = (value) => (Math.floor(value / 10) << 4) | value % 10;
function setTime(seconds) {
  const at = new Date(Date.UTC(2000, 0, 1) + seconds * 1000);
  const parts = [at.getUTCSeconds(), at.getUTCMinutes(), at.getUTCHours(), 1, at.getUTCDate(), at.getUTCMonth() + 1];
  registers.set([...parts, at.getUTCFullYear() - 2000].map(bcd));
}
// And a BH1750: two bytes of 1.2 counts a lux.
const SENSOR = 0x23;
const bus = rp.i2c[0];
let [talksTo, lux, byte] = [0, 0, 0];
bus.onConnect = (address) => {
  [talksTo, byte] = [address, 0];
  bus.completeConnect(address === 0x68 || address === SENSOR);
};
bus.onStart = (again) => {
  if (!again) pointer = -1;
  bus.completeStart();
};
bus.onWriteByte = (value) => {
  if (talksTo === SENSOR) return bus.completeWrite(true);
  if (pointer < 0) pointer = value;
  else registers[pointer++] = value;
  bus.completeWrite(true);
};
bus.onReadByte = () => {
  const raw = Math.floor((lux * 6 + 4) / 5);
  if (talksTo === SENSOR) return bus.completeRead(byte++ ? raw & 255 : raw >> 8);
  bus.completeRead(registers[pointer++ % registers.length]);
};

const levels = new Map();
function level(pin, high) {
  if (levels.get(pin) === high) return; // the emulator takes each call for an edge
  levels.set(pin, high);
  gpio[pin].setInputValue(high);
}

let awake = 0;
function runUntil(nanos) {
  while (clock.nanos < nanos) {
    if (core.waiting && core.pendingInterrupts & core.enabledInterrupts) {
      core.waiting = false; // one that came before WFI: the emulator would sleep on it
      core.interruptsUpdated = true;
    }
    if (core.waiting) {
      const next = clock.nextAlarm ? clock.nanosToNextAlarm : Infinity;
      clock.tick(Math.max(0, Math.min(next, nanos - clock.nanos)));
    } else {
      const cycles = core.executeInstruction();
      awake += cycles;
      clock.tick((cycles * 1e9) / rp.clkSys);
    }
  }
}

const motor = () => (gpio[plan.pins.raise].outputValue ? 1 : 0) | (gpio[plan.pins.lower].outputValue ? 2 : 0);
let both = 0;
for (const pin of [plan.pins.raise, plan.pins.lower]) gpio[pin].addListener(() => (both += motor() === 3));

const record = fs.readFileSync(plan.record);
const runs = record.length / plan.run_bytes;
const total = plan.seconds;
const given = Buffer.alloc(total * (plan.in_bytes + plan.out_bytes + 2));
const SECOND = 1e9;
for (const pin of [plan.pins.pulse, ...Object.values(plan.pins.hand)]) level(pin, true);
const showSwitches = (top, bottom) => {
  level(plan.pins.top, plan.closed ? !!top : !top);
  level(plan.pins.bottom, plan.closed ? !!bottom : !bottom);
};
showSwitches(record[plan.at.top], record[plan.at.bottom]);
setTime(plan.first_s - 1);
boot();
runUntil(SECOND / 2);
const bootCycles = awake;
awake = 0;
let second = 0;
let at = 0;
const origin = SECOND / 2;
for (let run = 0; run < runs; run++) {
  const row = record.subarray(run * plan.run_bytes, (run + 1) * plan.run_bytes);
  const n = row.readUInt16LE(0);
  lux = row.readUInt16LE(plan.at.light_counts);
  rp.adc.channelValues[plan.pins.cell] = lux * 4 + 2;
  rp.adc.channelValues[plan.pins.battery] = plan.battery[row[plan.at.battery]] * 4 + 2;
  level(plan.pins.hand.up, row[plan.at.hand] !== 1);
  level(plan.pins.hand.down, row[plan.at.hand] !== 2);
  level(plan.pins.hand.keep_shut, !row[plan.at.keep_shut]);
  for (let i = 0; i < n; i++) {
    showSwitches(row[plan.at.top], row[plan.at.bottom]);
    setTime(plan.first_s + second);
    level(plan.pins.pulse, false);
    runUntil(origin + second * SECOND + SECOND / 2);
    rp.sram.subarray(plan.in_at - RAM, plan.in_at - RAM + plan.in_bytes).forEach((b) => (given[at++] = b));
    rp.sram.subarray(plan.out_at - RAM, plan.out_at - RAM + plan.out_bytes).forEach((b) => (given[at++] = b));
    given[at++] = motor();
    given[at++] = gpio[plan.pins.speed].functionSelect === 4 ? 1 : 0;
    level(plan.pins.pulse, true);
    runUntil(origin + (second + 1) * SECOND);
    second++;
  }
}
let stackEnd = plan.stack_from - RAM;
while (rp.sram[stackEnd] === 0xa5) stackEnd++;
const word = (n) => rp.sramView.getUint32(COUNTERS - RAM + 4 * n, true);
fs.writeFileSync(path.join(folder, "given.bin"), given.subarray(0, at));
fs.writeFileSync(path.join(folder, "log.txt"), log, "latin1");
fs.writeFileSync(path.join(folder, "kept.bin"), rp.sram.subarray(plan.kept_at - RAM, plan.kept_at - RAM + 1024));
fs.writeFileSync(path.join(folder, "flash.bin"), rp.flash.subarray(0x1f8000, 0x200000));
const stack = 0x40000 - stackEnd;
const [erases, programs, faults] = [0, 1, 2].map(word);
console.log(JSON.stringify({ seconds: second, awake, bootCycles, resets, both, stack, erases, programs, faults }));
